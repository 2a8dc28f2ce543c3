package analysis

import (
	"context"
	"crypto/sha256"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/sources"
)

// realText is a preprocessed text for a target, which is put to the assembler
// and to the analysis.
type realText struct {
	unit *sources.Unit // the first that comes to it
	text string
	note string // what was changed, for a mutant

	judged bool // by judgeReal
	ok     bool // the assembler takes it as it is
	// silent are the lines that the assembler refuses and we do not, alarms
	// those where it is the other way round, with our message; from 1, line 0
	// means the whole.
	silent []int
	alarms map[int]string
	agreed int // lines that both refuse
	ours   bool
}

// errorsByLine has the first message of severity error of each line, from 1.
func errorsByLine(r *Result) map[int]string {
	bad := map[int]string{}
	for _, d := range r.Each() {
		if l := r.in.File.LineAt(d.Span.Start) + 1; d.Severity == finding.Error && bad[l] == "" {
			bad[l] = d.Code + ": " + d.Message
		}
	}
	return bad
}

// judgeReal compares the verdicts on each text, line by line. Lines that both
// refuse are taken out, and the rest is compared again, as one error brings
// others and hides some; what is left then is where we part. Texts that it has
// judged before are left as they are.
func judgeReal(t *testing.T, texts []*realText) {
	t.Helper()
	now := make([]string, len(texts))
	var open []int
	for i, x := range texts {
		if !x.judged {
			x.judged, now[i] = true, x.text
			open = append(open, i)
		}
	}
	for round := 0; len(open) > 0; round++ {
		programs := make([]reftest.Program, len(open))
		for k, i := range open {
			programs[k] = reftest.Program{Text: now[i], Flags: texts[i].unit.Config.Flags()}
		}
		var again []int
		for k, v := range reftest.AssemblePrograms(t, programs) {
			i := open[k]
			x := texts[i]
			c := x.unit.Config
			r, err := Analyze(context.Background(), &Input{Path: "real.s", File: syntax.Parse(now[i]), Set: &Settings{Arch: c.Arch, FPU: c.FPU}})
			if err != nil {
				t.Fatalf("%v: %v", x.unit, err)
			}
			bad := errorsByLine(r)
			if round == 0 {
				x.ok, x.ours = v.OK, len(bad) > 0
			}
			x.silent, x.alarms = nil, nil
			if !v.OK && len(v.ErrorLines) == 0 {
				// Refused, and it does not say where.
				if len(bad) == 0 {
					x.silent = []int{0}
				}
				continue
			}
			lines := strings.SplitAfter(now[i], "\n")
			if n := len(v.ErrorLines); n > 0 && v.ErrorLines[n-1] >= len(lines) && len(bad) > 0 {
				// What is open at the end it reports there, and we where it begins;
				// what lies between is read otherwise.
				x.agreed++
				continue
			}
			both := 0
			for _, l := range v.ErrorLines {
				switch {
				case bad[l] == "":
					x.silent = append(x.silent, l)
				case l <= len(lines):
					both++
					lines[l-1] = "\n"
				}
			}
			x.agreed += both
			switch {
			case both == 0:
				x.alarms = bad
			case both < len(bad) || len(x.silent) > 0:
				if round < 12 {
					now[i] = strings.Join(lines, "")
					again = append(again, i)
				}
			}
		}
		open = again
	}
}

// line is the text of a line, from 1.
func (x *realText) line(n int) string {
	lines := strings.Split(x.text, "\n")
	if n < 1 || n > len(lines) {
		return ""
	}
	return lines[n-1]
}

// judgedOtherwise are lines where we keep to another verdict than the assembler,
// with the reason. A pattern is matched against "alarm" or "silence", the target,
// the line and, in braces, what was changed, as in
//
//	alarm armv7-m: b lr {suffix, line 7: " b lr" for " bx lr"}
type judgedOtherwise struct {
	pattern string
	why     string
}

// parted says whether an entry of a table covers a difference, and marks it.
func parted(table []judgedOtherwise, used []bool, kind string, x *realText, line int) bool {
	s := fmt.Sprintf("%s %s: %s {%s}", kind, x.unit.Config.Name, strings.TrimSpace(x.line(line)), x.note)
	for i, e := range table {
		if regexp.MustCompile(e.pattern).MatchString(s) {
			used[i] = true
			return true
		}
	}
	return false
}

// realPackage is a package with its sources expanded.
type realPackage struct {
	dir   string
	files []string
	units []*sources.Unit
	texts []*realText
	of    map[*sources.Unit]*realText // which text a build of a file comes to
}

// expanded are the packages that a test has asked for. What tests that run side by side have of
// them they only read; those that judge the texts run one after the other.
var expanded = struct {
	sync.Mutex
	packages map[*sources.Package]*realPackage
}{packages: map[*sources.Package]*realPackage{}}

// realTexts expands a package's sources, once for all tests.
func realTexts(t *testing.T, p *sources.Package) *realPackage {
	t.Helper()
	expanded.Lock()
	defer expanded.Unlock()
	if r := expanded.packages[p]; r != nil {
		return r
	}
	r := &realPackage{dir: p.Unpack(t), of: map[*sources.Unit]*realText{}}
	r.files, r.units = p.Files(t, r.dir), reftest.Sample(p.Units(t, r.dir), 47) // of 23 targets
	sources.Expand(t, r.units)
	seen := map[[32]byte]*realText{}
	for _, u := range r.units {
		if u.Refused {
			continue
		}
		key := sha256.Sum256([]byte(strings.Join(u.Config.Flags(), " ") + "\n" + u.Text))
		if seen[key] == nil {
			seen[key] = &realText{unit: u, text: u.Text}
			r.texts = append(r.texts, seen[key])
		}
		r.of[u] = seen[key]
	}
	expanded.packages[p] = r
	return r
}

// TestRealSources reads sources that nobody here wrote, for many targets: as the
// reference's preprocessor leaves them, line by line, and as they are. What the
// reference assembler takes must have no error; where it refuses lines, they must
// have one.
func TestRealSources(t *testing.T) {
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as")
	for _, p := range sources.Chosen(t) {
		if p.Columns {
			continue // TestRealColumns reads it
		}
		t.Run(p.Name, func(t *testing.T) {
			real := realTexts(t, p)
			dir, files, units, texts, of := real.dir, real.files, real.units, real.texts, real.of
			judgeReal(t, texts)
			used := make([]bool, len(realOtherwise))
			alarms, silent, taken, refused, agreed, lines := 0, 0, 0, 0, 0, 0
			told := map[string]bool{}
			tell := func(kind string, x *realText, l int, m string) bool {
				if parted(realOtherwise, used, kind, x, l) {
					return false
				}
				if key := m + x.line(l); !told[key] {
					told[key] = true
					t.Errorf("%v line %d: %s: %q %s", x.unit, l, kind, x.line(l), m)
				}
				return true
			}
			for _, x := range texts {
				lines += strings.Count(x.text, "\n")
				for _, l := range slices.Sorted(maps.Keys(x.alarms)) {
					if tell("alarm", x, l, x.alarms[l]) {
						alarms++
					}
				}
				for _, l := range x.silent {
					if tell("silence", x, l, "") {
						silent++
					}
				}
				switch {
				case x.ok:
					taken++
				default:
					refused++
					if x.ours {
						agreed++
					}
				}
			}
			// The list of files: in how many builds each assembles, by itself or
			// as a part of another.
			type count struct{ builds, taken, within, refused int }
			counts := map[string]*count{}
			for _, f := range files {
				counts[filepath.Join(dir, f)] = &count{}
			}
			builds := 0
			for _, u := range units {
				c := counts[u.Path]
				c.builds++
				switch x := of[u]; {
				case x == nil:
					c.refused++
				case x.ok:
					builds++
					c.taken++
					for _, f := range u.Read {
						if o := counts[filepath.Clean(f)]; o != nil && f != u.Path {
							o.within++
						}
					}
				}
			}
			whole, sourceLines := 0, 0
			for _, f := range files {
				c := counts[filepath.Join(dir, f)]
				text, err := os.ReadFile(filepath.Join(dir, f))
				if err != nil {
					t.Fatal(err)
				}
				n := strings.Count(string(text), "\n")
				sourceLines += n
				if c.taken+c.within > 0 {
					whole++
				}
				t.Logf("%5d lines, assembled in %d of %d builds, as a part of others in %d: %s", n, c.taken, c.builds, c.within, f)
			}
			rawSources(t, p, units, of)
			proof.Counted("real sources, %s: %d files with %d lines, %d of them in what assembles; %d builds for %d targets, %d of them assemble; %d different texts with %d lines: %d assemble, false alarms %d; %d do not assemble, refused by us too %d, lines missed %d",
				p.Name, len(files), sourceLines, whole, len(units), len(sources.Configs), builds, len(texts), lines, taken, alarms, refused, agreed, silent)
		})
	}
}

// realOtherwise are the differences in the sources as they are.
var realOtherwise = []judgedOtherwise{
	{`^silence \S+: \.incbin `, `what a build makes is not there, and the comparison names no files of data to us`},
	{`^alarm armv8-m.base: movs? \w+, \w+, ls[lr] `, `the baseline of ARMv8-M has no MOV with a shifted register of full width (DDI 0553, "MOV (register)"); the assembler writes it`},
}
