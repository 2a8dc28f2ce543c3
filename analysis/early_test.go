package analysis

import (
	"fmt"
	"math/rand"
	"regexp"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// TestEarlyConstants puts a name that is defined at the end in the place of each
// constant of each row, and compares the verdicts.
func TestEarlyConstants(t *testing.T) {
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as")
	number := regexp.MustCompile(`#-?\d+`)
	refused, all := 0, 0
	for _, x := range []struct {
		arch, fpu string
		a32       bool
	}{
		{"armv4t", "", true}, {"armv5te", "", true}, {"armv7-a", "neon-vfpv4", true}, {"armv8-a", "neon-fp-armv8", true},
		{"armv4t", "", false}, {"armv6-m", "", false}, {"armv7-m", "", false}, {"armv7-a", "neon-vfpv4", false}, {"armv8-a", "neon-fp-armv8", false}, {"armv8-m.main", "", false},
	} {
		set := &Settings{Arch: x.arch, FPU: x.fpu, Syntax: "unified", StartMode: "thumb"}
		rows := isa.Rows()
		if x.a32 {
			rows, set.StartMode = isa.RowsA32(), "arm"
		}
		e, err := set.env()
		if err != nil {
			t.Fatal(err)
		}
		r := rand.New(rand.NewSource(1))
		seen := map[string]bool{}
		var lines, values []string
		for _, row := range rows {
			value, mask := row.Pattern()
			for range 30 {
				w := value | r.Uint32()&^mask
				var in isa.Inst
				var ok bool
				switch {
				case x.a32:
					in, ok = isa.DecodeA32(e.Have, w&0x0fffffff|0xe0000000&^mask&0xf0000000|value&0xf0000000)
				case row.Size() == 2:
					in, ok = isa.Decode(e.Have, uint16(w), 0)
				default:
					in, ok = isa.Decode(e.Have, uint16(w>>16), uint16(w))
				}
				if !ok || in.Row != row {
					continue
				}
				text := in.Text(true, 0)
				for _, at := range number.FindAllStringIndex(text, -1) {
					key := fmt.Sprint(row.ID, strings.Count(text[:at[0]], ","))
					if seen[key] {
						continue
					}
					seen[key] = true
					name := fmt.Sprintf("k%d", len(lines))
					lines = append(lines, text[:at[0]]+"#"+name+text[at[1]:])
					values = append(values, ".equ "+name+", "+text[at[0]+1:at[1]])
				}
			}
		}
		all += len(lines)
		text := strings.Join(append(lines[:len(lines):len(lines)], values...), "\n") + "\n"
		opt := reftest.Options{Arch: x.arch, Unified: true, Thumb: !x.a32}
		if x.fpu != "" {
			opt.Flags = []string{"-mfpu=" + x.fpu}
		}
		theirs := map[int]bool{}
		for _, n := range reftest.AssembleFile(t, opt, text).ErrorLines {
			theirs[n] = true
		}
		res := analyze(t, set, text)
		ours := map[int]string{}
		for _, d := range res.Each() {
			if d.Severity == finding.Error {
				ours[res.in.File.LineAt(d.Span.Start)+1] = d.Message
			}
		}
		for i, l := range lines {
			if theirs[i+1] {
				refused++
			}
			if theirs[i+1] != (ours[i+1] != "") {
				t.Errorf("%s, A32 %v: %s: refused %v, ours %q", x.arch, x.a32, l, theirs[i+1], ours[i+1])
			}
		}
	}
	proof.Counted("early constants: %d statements with a constant from below, %d refused", all, refused)
}
