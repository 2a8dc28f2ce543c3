package analysis

import (
	"context"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// TestUnlikeARM holds that sources of architectures that no list knows are told by lines that
// no ARM assembly has, and that slips in ARM code, however many, are not taken for one.
func TestUnlikeARM(t *testing.T) {
	for name, c := range map[string]struct {
		text    string
		foreign bool
	}{
		"sized moves":            {"\t.global _sum\n_sum:\tmov.l #0, r5\n1:\tmov.l [r1+], r4\n\tadd r4, r5\n\tsub #1, r2\n\tbne.b 1b\n\tmov.l r5, r1\n\trts\n", true},
		"marked registers":       {"\t.global sum\nsum:\tldk $r4, 0\n1:\tldi.l $r5, $r0, 0\n\tadd.l $r4, $r4, $r5\n\tadd.l $r0, $r0, 4\n\tsub.l $r1, $r1, 1\n\tjmpc nz, 1b\n\tmove.l $r0, $r4\n\treturn\n", true},
		"two lines":              {"lamp:\tstrlen.b $r0, $r0\n\treturn\n", true},
		"high registers":         {"sum:\tmovi r40, 0\n1:\tldw r41, r4\n\tadd r40, r40, r41\n\taddi r4, r4, 4\n\tdecr r5\n\tjnz r5, 1b\n\tret r40\n", true},
		"bundles":                {"sum:\tadds r8 = 16, r32\n\tbr.ret.sptk.many rp\n\t;;\n\tst8.spill [r8] = r33, 16\n\tmov ar.pfs = r34\n\tld8 r9 = [r33]\n", true},
		"names alone":            {"sum:\tclrq\n\tsetlb\n\tinc4 lamp\n\tjmpf sum\n\thalt\n", false},
		"slips in all names":     {"lamp:\tmvoes\n\tmvosss\n\tmvoooos\n\tadds2 r0\n\tmox r0\n", false},
		"slips of directives":    {"\t.alig 2\n\t.alin 2\n\t.aling 2\n\t.agn 2\n\t.wrd 1\n\t.glbal x\n", false},
		"a word says it":         {"\t.syntax unified\nlamp:\tmov w1, #1\n\tldr w2, [x3]\n\tldk $r4, 0\n\tldi.l $r5, $r0\n", false},
		"brackets that count":    {"sum:\t[--SP] = R7;\n\tR7 = [P0++];\n\tR0 = [P1++];\n\tjump lamp;\n\tR7 = [SP++];\n", true},
		"m4":                     {"dnl  The lamps of a signal box.\n\ndefine(`LAMP', `r0')\ndefine(`TO', `r1')\ndnl  of all\n\tPROLOGUE(lamps)\n\tmov\tLAMP, #1\n\tldr\tr2, [TO, #4]!\n\tldr\tr3, [r2]\n\tbx\tlr\n\tEPILOGUE(lamps)\n", true},
		"completers":             {"sum:\tcopy r4, r5\n\tstbs,ma r6, 1(r7)\n\tcomb,= r4, r5, 1f\n\tnop\n1:\tbv,n r0(rp)\n", true},
		"slips":                  {"lamp:\tmoov r0, #1\n\tadds r0, r0, #1\n\tstrr r0, [r1]\n\tbx lr\n\tlddr r2, [r1]\n\tpussh {r4}\n", false},
		"slips in registers":     {"lamp:\tmovs r16, #1\n\tmovs r17, #1\n\tldr r0, [r1]\n\tstr r0, [r2]\n\tbx lr\n", false},
		"two high registers":     {"lamp:\tmovs r16, #1\n\tmovs r17, #1\n", false},
		"a macro of elsewhere":   {"lamps:\tlight 1\n\tlight 2\n\tlight 3\n\tlight 4\n\tlight 5\n\tlight 6\n", false},
		"macros between lines":   {"lamps:\tpush {r4, lr}\n\tlight 1\n\tdim 2\n\tblink 3\n\tdark 4\n\twait 5\n\tpop {r4, pc}\n", false},
		"marks in front of some": {"lamp:\tldr r0, [r1]\n\tmov $r0, #1\n\tmov $r1, #2\n\tadd r0, r0, #1\n\tstr r0, [r1]\n\tbx lr\n", false},
	} {
		for _, path := range []string{"box.s", "box.S"} {
			r, err := AnalyzeGuessing(context.Background(), &Input{Path: path, File: syntax.Parse(c.text)})
			if err != nil {
				t.Fatal(err)
			}
			list := r.Early()
			if r.foreign != c.foreign || c.foreign && (len(list) != 1 || list[0].Severity != finding.Hint) {
				t.Errorf("%s in %s: %v, %v", name, path, r.foreign, list)
			}
			if c.foreign && len(list) == 1 && name != "m4" && !strings.Contains(list[0].Message, "assembly (") {
				t.Errorf("%s: %s", name, list[0].Message)
			}
		}
	}
}
