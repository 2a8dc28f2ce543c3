package analysis

import (
	"encoding/binary"
	"fmt"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/isa/reftest"
)

// expressions writes random expressions over numbers at the borders of 32 and 64
// bits, symbols with values, labels above and below, and what is not defined.
type expressions struct {
	*rand.Rand
	wide bool // 64 bits: numbers only
}

func (e expressions) leaf() string {
	numbers := []string{"0", "1", "2", "3", "5", "7", "31", "32", "33", "63", "64", "65", "255", "256", "0x7fffffff", "0x80000000", "0xffffffff", "0x100000000",
		"0x7fffffffffffffff", "0x8000000000000000", "0xffffffffffffffff", "0xfedcba9876543210", "1234567890123", "0b101", "017", "'a'", "seven", "minus", "large", "small", "bits", "later"}
	if e.wide {
		return numbers[e.Intn(len(numbers)-1)]
	}
	if e.Intn(3) == 0 {
		return numbers[e.Intn(len(numbers))]
	}
	return []string{"near", "nearer", ".", "ahead", "beyond", "other", "outside", "1b", "1f", "part", "near", "ahead", "weakly", "shared"}[e.Intn(14)]
}

func (e expressions) expr(depth int) string {
	if depth == 0 || e.Intn(4) == 0 {
		l := e.leaf()
		unary := []string{"", "", "", "", "-", "~", "!", "+", "- -", "-~"}
		if !e.wide && l[0] > '9' { // the others make of a name what few write
			unary = unary[:5]
		}
		return unary[e.Intn(len(unary))] + l
	}
	x, y := e.expr(depth-1), e.expr(depth-1)
	if e.Intn(3) == 0 {
		x = "(" + x + ")"
	}
	if e.Intn(3) == 0 {
		y = "(" + y + ")"
	}
	ops := []string{"+", "-", "-", " + ", "*", "/", "%", "<<", ">>", "&", "|", "^", "==", "!=", "<>", "<", ">", "<=", ">=", "&&", "||", "!"}
	n := len(ops)
	if !e.wide && e.Intn(2) == 0 {
		n = 4
	}
	return x + ops[e.Intn(n)] + y
}

const expressionHead = "\t.set seven, 7\n\t.set minus, -3\n\t.set large, 0x7fffffffffffffff\n\t.set small, -0x8000000000000000\n\t.set bits, 0xa5a5a5a5a5a5a5a5\n"

// TestWideExpressions compares the values of random expressions of 64 bits with the
// reference's.
func TestWideExpressions(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	n := reftest.Count(1000, 4000, 40000)
	e := expressions{rand.New(rand.NewSource(int64(reftest.Seed(11)))), true}
	compared, crashes := 0, 0
	var judge func(lines []string)
	judge = func(lines []string) {
		text := expressionHead + "\t.quad " + strings.Join(lines, "\n\t.quad ") + "\n"
		ref := reftest.AssembleFile(t, reftest.Options{Arch: "armv4t"}, text)
		if !ref.OK {
			// It fails where the lowest number is divided by -1.
			if len(lines) == 1 {
				crashes++
				return
			}
			judge(lines[:len(lines)/2])
			judge(lines[len(lines)/2:])
			return
		}
		res := analyze(t, nil, text)
		for _, d := range res.Each() {
			if l := res.in.File.LineAt(d.Span.Start); d.Severity == finding.Error && !slices.Contains(ref.ErrorLines, l+1) {
				t.Errorf("false alarm: %s: %s", lines[l-5], d.Message)
			}
			if l := res.in.File.LineAt(d.Span.Start); d.Severity == finding.Warning && !slices.Contains(ref.WarnLines, l+1) {
				t.Errorf("false warning: %s: %s", lines[l-5], d.Message)
			}
		}
		data := ref.Sections[".text"]
		p := eval.New(res.prog)
		k := 0
		for i := range res.prog.Items {
			it := &res.prog.Items[i]
			if it.Size != 8 {
				continue
			}
			v := p.Value(&it.Stmt.Ops[0], it)
			if want := int64(binary.LittleEndian.Uint64(data[k*8:])); v.Kind != program.Number || v.N != want {
				t.Errorf("%s: reference %#x, here %#x", lines[k], want, v.N)
			}
			k++
		}
		if k != len(lines) {
			t.Errorf("%d values of %d", k, len(lines))
		}
		compared += k
	}
	for compared+crashes < n {
		var lines []string
		for range 200 {
			lines = append(lines, e.expr(1+e.Intn(4)))
		}
		judge(lines)
		if t.Failed() {
			return
		}
	}
	if crashes > n/20 {
		t.Errorf("%d expressions without a value", crashes)
	}
	proof.Counted("expressions: %d; of %d the reference has no value", compared, crashes)
}

// TestPlaceExpressions compares the verdicts on random expressions with labels, and
// the values of those that are numbers, with the reference's.
func TestPlaceExpressions(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	n, first := reftest.Count(8, 40, 66), reftest.Seed(0)
	compared, refused := 0, 0
	for seed := first; seed < first+n; seed++ {
		e := expressions{rand.New(rand.NewSource(int64(seed))), false}
		var lines []string
		for range 60 {
			// The lowest number divided by -1 stops the reference.
			x := strings.NewReplacer("small", "minus", "0x8000000000000000", "0x80000000").Replace(e.expr(1 + e.Intn(3)))
			k := e.Intn(14)
			if k == 6 {
				// Whether a distance is known in its own line depends on how the
				// assembler allots its memory.
				x = strings.NewReplacer("small", "minus", "0x8000000000000000", "0x80000000").Replace(expressions{e.Rand, true}.expr(2))
			}
			if k == 4 || k == 5 {
				// How addresses and numbers of more than 32 bits mix in a byte
				// depends on the assembler's own machine.
				x = strings.NewReplacer("small", "4", "large", "90", "bits", "6", "0x7fffffffffffffff", "17", "0x8000000000000000", "18", "0xffffffffffffffff", "19", "0xfedcba9876543210", "20").Replace(x)
			}
			lines = append(lines, []string{".word ", ".word ", ".word ", ".word ", ".byte ", ".hword ", ".quad ", ".set s%d, ", ".set s%d, ", ".if %[1]s @", ".space 1&", ".fill 1&", ".org . + 1&", ".balign 1!"}[k])
			l := &lines[len(lines)-1]
			switch {
			case strings.Contains(*l, "%d"):
				*l = fmt.Sprintf(*l, len(lines)) + x
			case k == 9:
				x = e.leaf() + []string{"==", "!=", "-", "<", ">=", "+"}[e.Intn(6)] + e.leaf()
				*l = ".if " + x + "; .endif"
			case k == 10 || k == 11:
				// Nested operators on addresses come to 0 there, unseen.
				// Sizes by what is after them may have no end.
				x = e.leaf() + []string{"-", "+", "*", "/", "<<"}[e.Intn(5)] + e.leaf()
				x = strings.NewReplacer("small", "minus", "0x8000000000000000", "5", "ahead", "near", "beyond", "nearer", "shared", "other", "1f", "1b", "part", "near").Replace(x)
				*l = strings.TrimSuffix(*l, "1&") + "(" + x + ")&3"
			case k >= 12:
				*l = ".word " + x
			default:
				*l += x
			}
		}
		head := expressionHead + "\t.weak weakly\n\t.global shared\n\t.data\nother: .word 0\n\t.subsection 2\n\t.word 0\n\t.text 1\npart: .word 0\n\t.text\nnear:\t.word 0\n1:\nnearer:\t.byte 1, 2, 3\nweakly: .byte 0\n"
		tail := "1:\nahead:\t.word 0\nbeyond:\t.word 0\nshared: .word 0\n\t.set later, 9\n"
		headLines := strings.Count(head, "\n")
		for round := 0; ; round++ {
			text := head + strings.Join(lines, "\n") + "\n" + tail
			ref := reftest.AssembleFile(t, reftest.Options{Arch: "armv4t"}, text)
			res := analyze(t, nil, ".arch armv4t\n"+text)
			bad := map[int]string{}
			for _, d := range res.Each() {
				if d.Severity == finding.Error {
					bad[res.in.File.LineAt(d.Span.Start)] = d.Code + ": " + d.Message
				}
			}
			if !ref.OK && len(ref.ErrorLines) == 0 {
				// Errors in the values of symbols have no line there.
				any := false
				for l := range bad {
					k := l - 1 - headLines
					one := reftest.AssembleFile(t, reftest.Options{Arch: "armv4t"}, head+lines[k]+"\n"+tail)
					if one.OK {
						t.Errorf("seed %d: false alarm: %q: %s", seed, lines[k], bad[l])
					}
					any = true
					refused++
					lines[k] = ""
				}
				if !any {
					t.Errorf("seed %d: silence\n%s", seed, text)
				}
				if t.Failed() {
					return
				}
				continue
			}
			for _, l := range ref.ErrorLines {
				// After an error in a size nothing is sure: look only at it.
				if k := l - 1 - headLines; bad[l] == "" && k >= 0 && k < len(lines) {
					for _, d := range analyze(t, nil, ".arch armv4t\n"+head+lines[k]+"\n"+tail).Each() {
						if d.Severity == finding.Error {
							bad[l] = d.Message
						}
					}
				}
			}
			both := sameVerdicts(t, seed, strings.Split(text, "\n"), bad, ref.ErrorLines)
			if len(both) > 0 && round < 100 {
				refused += len(both)
				for _, l := range both {
					lines[l-1-headLines] = ""
				}
				continue
			}
			if t.Failed() {
				t.Log("\n" + text)
				break
			}
			if problem := res.differs(ref, bad); problem != "" {
				t.Errorf("seed %d: %s", seed, problem)
				break
			}
			compared += len(lines)
			break
		}
		if t.Failed() {
			return
		}
	}
	proof.Counted("expressions of places: %d lines compared, %d refused by both", compared, refused)
}
