package analysis

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// yard writes programs that include headers of constants, and edits them.
type yard struct {
	r     *rand.Rand
	files map[string]*syntax.File
}

func (b *yard) pick(s ...string) string { return s[b.r.IntN(len(s))] }

// name is one that a header may have, sometimes one that none has.
func (b *yard) name() string {
	return fmt.Sprintf("%s_%d", b.pick("LAMP", "POINT", "TRACK"), b.r.IntN(assemble.MinConstants+30))
}

func (b *yard) header(prefix string) string {
	var s strings.Builder
	n := assemble.MinConstants + b.r.IntN(20)
	for k := 0; k < n; k++ {
		before := b.r.IntN(max(k, 1))
		value := b.pick("7", "0x40001000", fmt.Sprintf("%s_%d", prefix, before), fmt.Sprintf("%s_%d + %d", prefix, before, k), "1 << 3", "~0", "-4 * 2")
		if k == 0 {
			value = "3"
		}
		fmt.Fprintf(&s, b.pick("\t.equ %s_%d, %s\n", "\t.set %s_%d, %s @ invented\n", "%s_%d = %s\n", ".equiv %s_%d, %s\n", ".equ %s_%d, %s ; nop\n"), prefix, k, value)
	}
	text := strings.ReplaceAll(s.String(), " ; nop", "")
	if b.r.IntN(4) == 0 { // what makes it something else, or depends on the program
		line := b.pick("\tnop\n", "X = OUTSIDE + 1\n", "X = OUTSIDE + 1\n", "X = OUTSIDE\n", "\t.equ LAMP_3, 1\n", "Y = . + 1\n", "Z = 1 << 99\n", ".equ R, r0\n", "W = 1f\n", "\t.eqv V, LAMP_1\n", "\t.set U, U\n", "V = 1 / 0\n", "V = 1 / (LAMP_0 - 3)\n", "V = 1 << TRACK_0 << 70\n", "label:\n", ".if 1\n.endif\n")
		at := strings.Index(text[b.r.IntN(len(text)/2):], "\n") + 1
		text = text[:at] + line + text[at:]
	}
	return text
}

func (b *yard) line() string {
	n := b.name()
	switch b.r.IntN(22) {
	case 0, 1:
		return "\tldr r0, =" + n
	case 2, 3:
		return "\t.word " + n + " + 1, " + b.name()
	case 4:
		return "\tmovs r1, #" + n
	case 5:
		return b.pick("\t.equ ", "\t.set ", "\t.equiv ") + n + ", " + b.pick("1", "later", b.name())
	case 6:
		return n + ":"
	case 7:
		return b.pick("\t.global ", "\t.weak ", "\t.type %function, ", "\t.comm 4, ") + n
	case 8:
		return "\t.ifdef " + n + "\n\tnop\n\t.else\n\t.hword 1\n\t.endif"
	case 9:
		return "\t.section " + b.pick(".bss", ".data", n)
	case 10:
		return b.pick("\t.thumb", "\t.arm", "\t.syntax unified", "\t.text")
	case 11:
		return "\t.if " + n + " > 4\n\t.space 4\n\t.endif"
	case 12, 13:
		return "\t.include \"" + b.pick("lamp.inc", "point.inc", "all.inc") + "\""
	case 14:
		return "\tite eq\n\tmoveq r0, #" + n + "\n\tmovne r0, r1"
	case 15:
		return "\t.macro inside\n\t.include \"track.inc\"\n\t.endm\n\tinside"
	case 16:
		return "OUTSIDE = 4"
	case 17:
		return "\t.if 0\n\t.include \"lamp.inc\"\n\t.endif"
	case 18:
		return "\tb 1f\n\t.space " + n + "\n1:"
	case 19:
		return "\t.set LAMP_1, LAMP_1 + 1"
	}
	return b.pick("\tnop", "\tadds r0, r0, #1", "later:", "\t.align 2", "\tlsls r0, r1, #"+n)
}

// front is a line that may be in front of a header.
func (b *yard) front() string {
	return b.pick("OUTSIDE = 4", "OUTSIDE = 5", "\t.arm", "\t.thumb", "\t.section "+b.name()+"\n\t.text", b.name()+" = 1", "\tnop", "\t.global "+b.name(), "\t.cpu cortex-m4", "\t.section .data")
}

func (b *yard) fill(name string) {
	text := ""
	switch name {
	case "main.s", "main.S", "all.inc":
		if b.r.IntN(4) > 0 {
			for n := b.r.IntN(3); n > 0; n-- {
				text += b.front() + "\n"
			}
			if name == "main.S" && b.r.IntN(2) == 0 {
				text += "#include \"lamp.inc\"\n"
			}
			text += "\t.include \"" + b.pick("lamp.inc", "point.inc", "track.inc") + "\"\n"
		}
		for n := 4 + b.r.IntN(14); n > 0; n-- {
			if l := b.line(); name != "all.inc" || !strings.Contains(l, "all.inc") {
				text += l + "\n"
			}
		}
	case "lamp.inc", "point.inc", "track.inc":
		text = b.header(strings.ToUpper(strings.TrimSuffix(name, ".inc")))
	}
	b.files[name] = syntax.ParseAs(text, syntax.Dots)
}

func (b *yard) edit() string {
	name := b.pick("main.s", "main.s", "main.s", "main.S", "main.S", "all.inc", "lamp.inc", "point.inc")
	f := b.files[name]
	if b.r.IntN(15) == 0 {
		b.fill(name)
		return name
	}
	i := b.r.IntN(f.NumLines())
	at, end := f.LineStart(i), f.LineStart(i)+len(f.Line(i).Text)
	line := b.line()
	if name == "main.S" && b.r.IntN(4) == 0 {
		line = b.pick("#include \"lamp.inc\"", "#include \"point.inc\"", "#define LAMP_2 4", "#define POINT_3", ".if 0\n#include \"lamp.inc\"\n.endif", "#undef LAMP_2", ".macro never\n#include \"lamp.inc\"\n.endm")
	}
	if name == "lamp.inc" || name == "point.inc" {
		line = b.pick("Q = 1", "\t.equ Q, 4", "LAMP_7 = 7", "\tnop", "POINT_300 = 1")
	}
	switch b.r.IntN(4) {
	case 3:
		if name[0] == 'm' {
			k := b.r.IntN(min(3, f.NumLines()))
			at, end := f.LineStart(k), f.LineStart(k)+len(f.Line(k).Text)
			if strings.Contains(f.Line(k).Text, "include") {
				end = at
				line = "\n"
			} else {
				line = ""
			}
			b.files[name] = f.Edit(at, end, b.front()+line)
		}
	case 0:
		b.files[name] = f.Edit(at, at, line+"\n")
	case 1:
		b.files[name] = f.Edit(at, end, line)
	default:
		b.files[name] = f.Edit(at, min(end+1, len(f.Text())), "")
	}
	return name
}

func (b *yard) analyze(t *testing.T, root string, made *assemble.Expansions) *Result {
	set := &Settings{Symbols: []string{"SET_1=4"}}
	if root == "main.S" {
		set.Symbols = append(set.Symbols, "LAMP_9=4")
	}
	r, err := Analyze(context.Background(), &Input{Path: root, File: b.files[root], Set: set, Made: made, Load: func(w assemble.Wanted) (string, *syntax.File, bool) {
		f := b.files[w.Name]
		return w.Name, f, f != nil
	}})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// told is what a result says. thorough asks at every few bytes.
func told(r *Result, thorough bool) string {
	var s strings.Builder
	for _, d := range r.Each() {
		fmt.Fprintf(&s, "%s %v %s %s %v\n", d.Path, d.Span, d.Code, d.Message, len(d.Related))
	}
	for k := range r.prog.Items {
		it := &r.prog.Items[k]
		fmt.Fprintln(&s, k, it.Index, it.Line, it.File, it.Section, it.Environment, it.Offset, it.Size, it.Flags, it.Slot, it.Stmt.Kind, it.Stmt.Name)
	}
	fmt.Fprintln(&s, r.prog.Order)
	var names []string
	r.prog.Defined(func(n string) { names = append(names, n) })
	sort.Strings(names)
	for _, n := range names {
		y := r.prog.SymbolOf(n)
		fmt.Fprintln(&s, n, y.Item, y.Kind, y.Defined, y.Label, y.Global, y.Once, y.Mode, y.Value.Kind, y.Value.N, y.Value.Section, y.Value.Late, r.prog.DefinedAt(y).Location, len(y.Past))
	}
	for i := range r.prog.Sources {
		x := &r.prog.Sources[i]
		fmt.Fprintln(&s, x.Path, x.From, x.Expansion != nil)
		if x.Expansion != nil || slices.ContainsFunc(r.prog.Sources[:i], func(o program.Source) bool { return o.Path == x.Path }) {
			continue
		}
		fmt.Fprintln(&s, r.SymbolsIn(x.Path))
		if thorough {
			by := 5
			if i > 0 {
				by = 131
			}
			for off := 0; off < len(x.File.Text()); off += by {
				h, _ := r.HoverIn(x.Path, off)
				for _, l := range append(r.DefinitionIn(x.Path, off), r.ReferencesIn(x.Path, off)...) {
					fmt.Fprint(&s, l.Path, l.Span)
				}
				fmt.Fprintln(&s, off, h)
			}
		}
	}
	return s.String()
}

// TestConstants edits random programs with headers of constants, and compares what
// an analysis says that takes what was kept of them with what one without says.
func TestConstants(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	number, seed := reftest.Count(4, 40, 1000), reftest.Seed(1)
	runs, taken := 0, 0
	for k := 0; k < number; k++ {
		b := &yard{r: rand.New(rand.NewPCG(uint64(seed+k), 5)), files: map[string]*syntax.File{}}
		for _, name := range []string{"lamp.inc", "point.inc", "track.inc", "all.inc", "main.s", "main.S"} {
			b.fill(name)
		}
		var made assemble.Expansions
		edited := "nothing"
		for n := 0; n < 12; n++ {
			for _, root := range []string{"main.s", "main.S"} {
				r := b.analyze(t, root, &made)
				runs++
				if len(r.prog.Taken) > 0 {
					taken++
				}
				got, want := told(r, n%6 == 5), told(b.analyze(t, root, nil), n%6 == 5)
				if got != want {
					x, y := strings.Split(got, "\n"), strings.Split(want, "\n")
					i := 0
					for i < min(len(x), len(y))-1 && x[i] == y[i] {
						i++
					}
					t.Fatalf("seed %d, edit %d of %s: %s: with what is kept\n%.500s\nwithout\n%.500s\n%s", seed+k, n, edited, root, x[i], y[i], b.files[root].Text())
				}
			}
			edited = b.edit()
		}
	}
	proof.Counted("kept constants: %d of %d analyses took them as they were", taken, runs)
	if taken < runs/8 {
		t.Error("the generator needs a look")
	}
}

// TestConstantsTwice has two headers of constants: both are taken as they were, but not
// where both define a name.
func TestConstantsTwice(t *testing.T) {
	fill := func(name, more string) *syntax.File {
		var s strings.Builder
		for k := range assemble.MinConstants {
			fmt.Fprintf(&s, "%s_%d = %d\n", name, k, k)
		}
		return syntax.ParseAs(s.String()+more, syntax.Dots)
	}
	more := "" // so that one has more names than the other
	for k := range 9 {
		more += fmt.Sprintf("TRACK_%d = 3\n", k)
	}
	for _, x := range []struct {
		first, second, later string // more in each, and in the first after two runs
		taken                int
	}{
		{"", "", "", 2},
		{"BOTH = 4\n", "", "", 2},
		{"BOTH = 4\n", "BOTH = 5\n", "", 1},
		{"POINT_5 = 9\n", "", "", 1},
		{"", "LAMP_5 = 9\n", "", 1},
		{"", "", "X = 9\n", 2},
		{"", "", "POINT_5 = 9\n", 1},
		{"", "", "POINT_5 = 9\n" + more, 1},
		{"", more, "POINT_5 = 9\n", 1},
	} {
		b := &yard{files: map[string]*syntax.File{"lamps.inc": fill("LAMP", x.first), "points.inc": fill("POINT", x.second)}}
		var made assemble.Expansions
		for k, front := range []string{"", "", "\tnop\n", "", "\tnop\n"} {
			if k == 2 {
				b.files["lamps.inc"] = fill("LAMP", x.first+x.later)
			}
			b.files["main.s"] = syntax.ParseAs(front+"\t.include \"lamps.inc\"\n\t.include \"points.inc\"\n\tldr r0, =LAMP_5 + POINT_5\n", syntax.Dots)
			r := b.analyze(t, "main.s", &made)
			if got, want := told(r, false), told(b.analyze(t, "main.s", nil), false); got != want {
				t.Errorf("%q and %q, run %d, differs", x.first, x.second, k)
			}
			if k == 4 && len(r.prog.Taken) != x.taken {
				t.Errorf("%q and %q: %d headers are taken, want %d", x.first, x.second, len(r.prog.Taken), x.taken)
			}
		}
	}
}

// TestConstantsAgain says when a header is taken as it was.
func TestConstantsAgain(t *testing.T) {
	var s strings.Builder
	for k := 0; k < assemble.MinConstants; k++ {
		fmt.Fprintf(&s, "\t.equ LAMP_%d, %d\n", k, k)
	}
	const use = "\tldr r0, =LAMP_5\n"
	for _, x := range []struct {
		more, before, now string // in the header, in front of it, and there in the second run
		taken             bool
	}{
		{"", "", "", true},
		{"", "", "\tnop\n", true},
		{"", "", "OTHER = 4\n", true},
		{"", "", "\t.data\n", true},
		{"", "", "LAMP_3 = 4\n", false},
		{"", "", "\t.global LAMP_3\n", false},
		{"", "", "\t.word LAMP_3\n", false},
		{"", "", "\t.section LAMP_3\n\t.text\n", false},
		{"", "", "\t.thumb\n", false},
		{"X = OUTSIDE + 1\n", "OUTSIDE = 4\n", "OUTSIDE = 5\n", false},
		{"X = OUTSIDE\n", "OUTSIDE = 4\n", "OUTSIDE = 5\n", false},
		{"X = LAMP_4 / (LAMP_5 - 5)\n", "", "", false}, // is warned of
		{"X = .\n", "", "\tnop\n", false},
		{"X = 1b\n", "1:", "\tnop\n1:\n", false},
		{"X = LATE\n", "", "\tnop\n", false},
		{"X = r0\n", "", "X .req r1\n", false},
		{"LAMP_3 = 9\n", "", "", false},
		{"\tnop\n", "", "", false},
		{"\t.if 1\n\t.endif\n", "", "", false},
		{"\t.eqv X, LAMP_4\n", "", "", true},
	} {
		files := map[string]*syntax.File{"lamps.inc": syntax.ParseAs(s.String()+x.more, syntax.Dots)}
		b := &yard{files: files}
		var made assemble.Expansions
		for k, front := range []string{x.before, x.before, x.now} {
			files["main.s"] = syntax.ParseAs(front+"\t.include \"lamps.inc\"\n"+use, syntax.Dots)
			r := b.analyze(t, "main.s", &made)
			if got, want := told(r, false), told(b.analyze(t, "main.s", nil), false); got != want {
				t.Errorf("%q with %q, run %d, differs", x.more, front, k)
			}
			if k == 2 && (len(r.prog.Taken) > 0) != x.taken {
				t.Errorf("%q with %q is taken: %v", x.more, front, !x.taken)
			}
		}
	}
}
