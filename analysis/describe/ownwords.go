package describe

import (
	"fmt"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Words to which an instruction gives their meaning, besides the registers in registers.go.

// barriers are the options of DMB, DSB and ISB (DDI 0406C, A8.8.43; those for loads DDI 0487,
// "DMB").
var barriers = map[string]string{
	"sy": "full system: all reads and writes before it, for everybody", "st": "full system, writes only", "ld": "full system: reads before it, and reads and writes after it",
	"ish": "inner shareable: all reads and writes, for the cores that share this one's memory", "ishst": "inner shareable, writes only", "ishld": "inner shareable: reads before it, and reads and writes after it",
	"nsh": "non-shareable: all reads and writes, for this core only", "nshst": "non-shareable, writes only", "nshld": "non-shareable: reads before it, and reads and writes after it",
	"osh": "outer shareable: all reads and writes, for everybody in the outer domain", "oshst": "outer shareable, writes only", "oshld": "outer shareable: reads before it, and reads and writes after it",
	"un": "another name of NSH", "unst": "another name of NSHST", "sh": "another name of ISH", "shst": "another name of ISHST",
}

// masks are what the letters of CPS stand for (DDI 0406C, B9.3.2; DDI 0403E, B5.2.1).
var masks = map[rune]string{'a': "asynchronous aborts", 'i': "interrupts (on the M profile PRIMASK)", 'f': "fast interrupts (on the M profile FAULTMASK)"}

// ownWordText says what such a word is; empty where there is nothing to say.
func ownWordText(word string, s *syntax.Stmt) string {
	low := strings.ToLower(word)
	text := ""
	switch name := strings.ToLower(s.Mnemonic.Name); {
	case strings.HasPrefix(name, "cps"):
		var list []string
		for _, c := range low {
			list = append(list, masks[c])
		}
		text = "what is masked or unmasked: " + joined(list)
	case strings.HasPrefix(name, "setend"):
		text = map[string]string{"le": "data in memory is little-endian: the lowest byte first", "be": "data in memory is big-endian: the highest byte first"}[low]
	case isa.ShiftByName(low) != isa.NoShift:
		return ""
	case barriers[low] != "":
		text = "a barrier's option, " + barriers[low]
	case len(low) > 1 && strings.Trim(strings.TrimPrefix(low[1:], "r"), "0123456789") == "":
		switch number := strings.TrimLeft(low, "cpr"); {
		case low[0] == 'c':
			text = "a register of a coprocessor, number " + number
		case number == "15":
			text = "coprocessor 15: system control, caches, memory protection"
		case number == "14":
			text = "coprocessor 14: debugging and tracing"
		case number == "10" || number == "11":
			text = fmt.Sprintf("coprocessor %s: floating point and vectors", number)
		default:
			text = "coprocessor " + number
		}
	}
	if text == "" {
		return ""
	}
	return fmt.Sprintf("**%s** — %s.", word, text)
}
