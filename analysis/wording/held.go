package wording

import (
	"fmt"
	"math/bits"
	"strings"

	"narrowgauge/analysis/values"
	"narrowgauge/isa"
)

// HeldText says what is known of a value, as the end of 'r0 is …'; empty where that is
// nothing. place names an address in a section, routine the routine that begins at the entry
// of a base.
func HeldText(w values.Word, place, routine func(b values.Base, off int32) string) string {
	text := heldText(w, place, routine)
	if text != "" && w.Assumed {
		text += ", if what is called keeps to AAPCS32"
	}
	return text
}

func heldText(w values.Word, place, routine func(b values.Base, off int32) string) string {
	off := int32(w.Val)
	switch w.Base.Kind {
	case values.Part:
		return ""
	case values.Section:
		return "the address " + place(w.Base, off)
	case values.Symbol:
		return "the address `" + w.Base.Symbol.Name + plus(off) + "`"
	case values.Entry:
		return entryText(w.Base.Reg, off, routine(w.Base, off))
	}
	if n, ok := w.Exact(); ok {
		return "`" + NumberText(n) + "`"
	}
	var parts []string
	switch {
	case w.Lo > 0 && w.Hi < ^uint32(0) || w.Hi <= 0xffff:
		parts = append(parts, fmt.Sprintf("%s to %s", NumberText(w.Lo), NumberText(w.Hi)))
	case w.Hi < ^uint32(0):
		parts = append(parts, fmt.Sprintf("at most %s", NumberText(w.Hi)))
	case w.Lo > 0:
		parts = append(parts, fmt.Sprintf("at least %s", NumberText(w.Lo)))
	}
	if zeros := bits.TrailingZeros32(w.Val | ^w.Mask); zeros > 0 && zeros < 32 {
		parts = append(parts, fmt.Sprintf("a multiple of %d", uint32(1)<<zeros))
	} else if w.Mask&1 != 0 {
		parts = append(parts, "an odd number")
	}
	return strings.Join(parts, ", ")
}

// NumberText writes a word: in decimal where it is small, else in hexadecimal, with its
// value if it is negative.
func NumberText(n uint32) string {
	switch {
	case n < 10:
		return fmt.Sprint(n)
	case int32(n) < 0 && int32(n) > -0x10000:
		return fmt.Sprintf("0x%x (%d)", n, int32(n))
	case n < 0x10000:
		return fmt.Sprintf("0x%x (%d)", n, n)
	}
	return fmt.Sprintf("0x%x", n)
}

func plus(off int32) string {
	switch {
	case off > 0:
		return fmt.Sprintf(" + %d", off)
	case off < 0:
		return fmt.Sprintf(" - %d", -int64(off))
	}
	return ""
}

func entryText(r isa.Reg, off int32, routine string) string {
	what := "where `" + routine + "` began"
	if routine == "" {
		what = "where this stretch of code began"
	}
	switch {
	case r == isa.SP && off < 0:
		return fmt.Sprintf("%d bytes below what sp was %s", -int64(off), what)
	case r == isa.SP && off > 0:
		return fmt.Sprintf("%d bytes above what sp was %s", off, what)
	case off != 0:
		return fmt.Sprintf("what %v was %s,%s", r, what, plus(off))
	}
	return fmt.Sprintf("what %v was %s", r, what)
}
