package analysis

import (
	"fmt"
	oldrand "math/rand"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/format"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
	"narrowgauge/isa/reftest/sources"
)

// formatted is the text of a file with all its lines laid out. It holds what is true of all
// edits: they are in order, within lines, and formatting once more gives none.
func formatted(t *testing.T, f *syntax.File, o format.Options) (string, int) {
	t.Helper()
	edits := format.Edits(f, o, 0, f.NumLines()-1)
	now := made(t, f, edits)
	g := syntax.ParseAs(now, f.Dialect())
	if again := format.Edits(g, o, 0, g.NumLines()-1); len(again) > 0 {
		e := again[0]
		t.Errorf("formatting twice changes line %d again: %q, which was %q", g.LineAt(e.Span.Start)+1, made(t, g, again[:1])[g.LineStart(g.LineAt(e.Span.Start)):][:40], g.Line(g.LineAt(e.Span.Start)).Text)
	}
	return now, len(edits)
}

// made is the text of a file with edits made.
func made(t *testing.T, f *syntax.File, edits []finding.Edit) string {
	t.Helper()
	var b strings.Builder
	at := 0
	for _, e := range edits {
		if e.Span.Start < at || e.Span.End < e.Span.Start || f.LineAt(e.Span.Start) != f.LineAt(e.Span.End) || strings.ContainsAny(e.New, "\r\n") {
			t.Fatalf("edit %+v after byte %d reaches over a line, or overlaps", e, at)
		}
		if f.Text()[e.Span.Start:e.Span.End] == e.New {
			t.Fatalf("edit %+v changes nothing", e)
		}
		b.WriteString(f.Text()[at:e.Span.Start])
		b.WriteString(e.New)
		at = e.Span.End
	}
	return b.String() + f.Text()[at:]
}

// scrambled is a program with other blanks, tabs and comments than it had, with things
// that must be left alone between its lines.
func scrambled(r *rand.Rand, text string, crlf bool) string {
	blanks := func() string {
		return []string{" ", "  ", "\t", "\t\t", "    ", " \t", "        "}[r.IntN(7)]
	}
	odd := r.IntN(3) // how much is changed: nothing of most lines, to all
	var out []string
	for _, line := range strings.Split(text, "\n") {
		l := syntax.Parse(line).Line(0)
		if odd > 0 && r.IntN(4-odd) == 0 && !strings.Contains(line, `"`) && len(l.Stmts) > 0 {
			code, comment := line, ""
			if l.Comment >= 0 {
				code, comment = line[:l.Comment], line[l.Comment:]
			}
			words := strings.Fields(code)
			for k := range words {
				if k == 0 && strings.HasPrefix(code, " ") || k == 0 && strings.HasPrefix(code, "\t") {
					words[k] = blanks() + words[k]
				} else if k > 0 {
					words[k] = blanks() + words[k]
				}
			}
			line = strings.Join(words, "")
			switch {
			case comment != "":
				line += blanks() + comment
			case r.IntN(6) == 0:
				line += blanks() + "@ signal 🚦, point \u00e9" + blanks()
			case r.IntN(6) == 0:
				line += blanks()
			}
		}
		out = append(out, line)
		switch r.IntN(60) {
		case 0:
			out = append(out, fmt.Sprintf("  .macro  lamp%d\ta ,b", len(out)), " mov   r0 , #1   @ in a body ", "\t.endm ")
		case 1:
			out = append(out, "   .rept  2", "  nop    @ twice", " .endr")
		case 2:
			out = append(out, "  /* a note  ", "   mov r0,   r1", "  that goes on */  ")
		case 3:
			out = append(out, "   # a remark,  for   nobody", "")
		case 4:
			out = append(out, " .section  .rodata.x ,  \"a\"", `  .ascii   "two  blanks;  @ no comment"   @ text`, ".byte   ' , 'a' ,3", "\t.balign 4", " .previous")
		case 5:
			out = append(out, "   ", "\t")
		case 6:
			out = append(out, "nop ; nop  ;nop;  nop")
		}
	}
	if r.IntN(5) == 0 {
		out = append(out, "  .end  ", "   this is    no code", " \"")
	}
	if crlf {
		return strings.Join(out, "\r\n")
	}
	return strings.Join(out, "\n")
}

// generated is a program of one of several generators.
func generated(seed int) string {
	r := oldrand.New(oldrand.NewSource(int64(seed)))
	switch seed % 5 {
	case 0:
		return firmware.Text(uint64(seed), 60)
	case 1:
		return firmware.A32(uint64(seed), 60)
	case 2:
		return firmware.T32(uint64(seed), 60)
	case 3:
		return "\t.equ v0, 7\n\t.equ v1, 70\n\t.equ v2, 130\n\t.equ v3, 400\n" + programT16(r, seed%2 == 0)
	}
	return "\t.equ v0, 7\n\t.equ v1, 70\n\t.equ v2, 130\n\t.equ v3, 400\n" + programA(r, seed%2 == 0)
}

// assembledAlike compares what the assembler makes of two texts: verdict, lines with errors
// and warnings, bytes, symbols, relocations.
func assembledAlike(t *testing.T, what string, opt reftest.Options, old, now string) (ok bool) {
	t.Helper()
	a, b := reftest.AssembleFile(t, opt, old), reftest.AssembleFile(t, opt, now)
	if a.OK != b.OK || !slices.Equal(a.ErrorLines, b.ErrorLines) || !slices.Equal(a.WarnLines, b.WarnLines) || !reflect.DeepEqual(a.Object, b.Object) {
		t.Errorf("%s: formatting changes what the assembler makes of it: %v %v %v, was %v %v %v", what, b.OK, b.ErrorLines, b.WarnLines, a.OK, a.ErrorLines, a.WarnLines)
		if dir := reftest.Text(reftest.Show); dir != "" {
			name := filepath.Join(dir, strings.NewReplacer("/", "_", " ", "_").Replace(what))
			_ = os.WriteFile(name+".old.s", []byte(old), 0o644)
			_ = os.WriteFile(name+".now.s", []byte(now), 0o644)
		}
	}
	return a.OK
}

// TestFormatGenerated formats generated programs whose lines are laid out at random.
func TestFormatGenerated(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as")
	n, first := reftest.Count(24, 350, 10000), reftest.Seed(0)
	changed, edits, assembled := 0, 0, 0
	settings := [][]string{nil, {"case=upper", "comments=48"}, {"instructions=4", "operands=space", "commas=space", "blanks=spaces"}, {"operands=24", "labels=2", "data=12", "commas=none", "blanks=tabs"}, {"comments=tab", "operands=tab", "case=lower"}}
	for seed := first; seed < first+n && !t.Failed(); seed++ {
		r := reftest.Rand(uint64(seed), 77)
		text := scrambled(r, generated(seed), seed%4 == 3)
		o, err := format.Parse(settings[seed/5%len(settings)])
		if err != nil {
			t.Fatal(err)
		}
		now, k := formatted(t, syntax.ParseAs(text, syntax.Dots), o)
		if strings.Count(now, "\r\n") != strings.Count(text, "\r\n") {
			t.Errorf("seed %d: line ends have changed", seed)
		}
		if edits += k; k > 0 {
			changed++
		}
		if assembledAlike(t, fmt.Sprintf("generated %d", seed), reftest.Options{Arch: "armv7-a"}, text, now) {
			assembled++
		}
	}
	proof.Counted("formatted and assembled: programs %d, of these changed %d, without errors %d; edits %d", n, changed, assembled, edits)
	if changed < n/2 || assembled < n/3 {
		t.Errorf("the generator is lopsided: %d of %d changed, %d without errors", changed, n, assembled)
	}
}

// TestFormatReal formats the real sources, before and after the preprocessor.
func TestFormatReal(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as", "cpp")
	files, edits, compared, assembled := 0, 0, 0, 0
	for _, p := range sources.Chosen(t) {
		dir := p.Unpack(t)
		units := map[string][]*sources.Unit{}
		for _, u := range p.Units(t, dir) {
			units[u.File] = append(units[u.File], u)
		}
		for i, name := range reftest.Sample(p.Files(t, dir), 8) {
			raw, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			f := syntax.Parse(string(raw))
			now, k := formatted(t, f, format.Options{})
			files++
			edits += k
			if p.Columns {
				continue // no assembler here knows them
			}
			list := units[name]
			for j := range reftest.Size(1, 2, len(list)) {
				u := *list[(i+j*7)%len(list)]
				as := u
				as.Path = filepath.Join(t.TempDir(), filepath.Base(name))
				as.Include = append([]string{filepath.Dir(u.Path)}, u.Include...)
				if err := os.WriteFile(as.Path, []byte(now), 0o644); err != nil {
					t.Fatal(err)
				}
				sources.Expand(t, []*sources.Unit{&u, &as})
				if u.Refused != as.Refused {
					t.Errorf("%v: the preprocessor refuses one of them", &u)
					continue
				}
				if u.Refused {
					continue
				}
				compared++
				opt := reftest.Options{Flags: u.Config.Flags()}
				if assembledAlike(t, u.String(), opt, u.Text, as.Text) {
					assembled++
				}
				after, k := formatted(t, syntax.Parse(u.Text), format.Options{})
				edits += k
				assembledAlike(t, u.String()+" preprocessed", opt, u.Text, after)
			}
		}
	}
	proof.Counted("formatted: real files %d, edits %d; assembled before and after in builds %d, without errors in %d", files, edits, compared, assembled)
	if files == 0 || assembled < compared/2 {
		t.Errorf("only %d of %d builds assemble", assembled, compared)
	}
}

// TestFormatDialects formats programs in the dialects that no assembler here knows: the analysis
// has the same findings in the same lines, and everything where it was.
func TestFormatDialects(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	what := func(text string, d syntax.Dialect) string {
		r := analyzeText(t, text, &Settings{Dialect: d.String()})
		var b strings.Builder
		for _, x := range r.Each() {
			fmt.Fprintf(&b, "%d %s\n", r.in.File.LineAt(x.Span.Start), x.Code)
		}
		for _, p := range r.Listing() {
			fmt.Fprintf(&b, "%d %s %d %d %s %s\n", p.Line, p.Section, p.Offset, p.Size, p.Code, p.State)
		}
		return b.String()
	}
	n, edits, placed := 0, 0, 0
	look := func(name, text string, d syntax.Dialect) {
		for _, set := range [][]string{nil, {"instructions=0", "directives=0", "data=0", "operands=space", "comments=40"}, {"instructions=30", "blanks=tabs"}} {
			o, err := format.Parse(set)
			if err != nil {
				t.Fatal(err)
			}
			now, k := formatted(t, syntax.ParseAs(text, d), o)
			before := what(text, d)
			n, edits, placed = n+1, edits+k, placed+strings.Count(before, "\n")
			if after := what(now, d); after != before {
				t.Errorf("%s %q: formatting changes what it comes to", name, set)
			}
		}
	}
	for dir, d := range map[string]syntax.Dialect{"columns": syntax.Columns, "modules": syntax.Modules} {
		names, err := filepath.Glob("testdata/" + dir + "/*")
		if err != nil || len(names) == 0 {
			t.Fatal(dir, err)
		}
		for _, name := range reftest.Sample(names, 3) {
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			look(name, string(text), d)
		}
	}
	first := reftest.Seed(0)
	for seed := first; seed < first+reftest.Count(10, 150, 3000) && !t.Failed(); seed++ {
		all := trioProgram(seed, "armv7-a")
		for d, lines := range all {
			look(fmt.Sprintf("program %d in %v", seed, syntax.Dialect(d)), strings.Join(lines, "\n"), syntax.Dialect(d))
		}
	}
	proof.Counted("formatted in other dialects: texts %d, edits %d, lines of what they come to %d", n, edits, placed)
	if edits < n {
		t.Errorf("only %d edits in %d texts", edits, n)
	}
}
