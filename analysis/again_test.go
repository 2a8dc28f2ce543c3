package analysis

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/check"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// againTexts are programs to edit: made ones of each instruction set, the demo, and the
// examples of all checks.
func againTexts(t *testing.T) (texts []string) {
	for seed := uint64(1); seed <= 3; seed++ {
		texts = append(texts, firmware.Text(seed, 150), firmware.A32(seed, 150), firmware.T32(seed, 150))
	}
	files, _ := filepath.Glob("../editors/demo/*.s")
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		texts = append(texts, strings.Replace(string(b), ".rept   600000", ".rept   6", 1))
	}
	for _, c := range finding.Registry {
		texts = append(texts, c.Bad, c.Good)
	}
	return texts
}

// againWords are what is typed.
var againWords = []string{"r0", "r1", "r7", "r8", "sp", "pc", "lr", "#1", "#4", "#255", "#256", "#0x1000", "movs", "mov", "adds", "add", "ldr", "ldrb", "str", "b", "bl", "bx", "beq", "push", "pop", "{r4, lr}", "{r0-r3}",
	"[r1]", "[r1, #4]", "[sp, #8]", "=1234", "1f", "1b", ",", " ", "\t", "@ a note", "/*", "*/", ";", ":", ".word", ".byte", "0x20", "COUNT", "it eq", "nop", "\n", "lsls", "é", "😀", "\r", ".align 2", "loop", "#COUNT", ".thumb", ".pool", "#undef", "-", "!"}

// againEdit makes a random change, mostly a small one in a line.
func againEdit(r *rand.Rand, f *syntax.File) *syntax.File {
	text := f.Text()
	line := r.IntN(f.NumLines())
	start, l := f.LineStart(line), f.Line(line).Text
	at := start + r.IntN(len(l)+1)
	switch r.IntN(13) {
	case 0, 1, 2: // a letter
		return f.Edit(at, at, string("abelmoprstx0123456789,#[]{}@ "[r.IntN(29)]))
	case 3, 4: // takes one away
		return f.Edit(at, min(at+1, start+len(l)), "")
	case 5, 6: // another digit or letter
		if at < start+len(l) {
			return f.Edit(at, at+1, string("0123456789abrs"[r.IntN(14)]))
		}
	case 7: // a word for another
		words := strings.FieldsFunc(l, func(c rune) bool { return strings.ContainsRune(" \t,", c) })
		if len(words) > 0 {
			w := words[r.IntN(len(words))]
			i := start + strings.Index(l, w)
			return f.Edit(i, i+len(w), againWords[r.IntN(len(againWords))])
		}
	case 8: // a word more
		return f.Edit(at, at, againWords[r.IntN(len(againWords))])
	case 9: // an empty line
		return f.Edit(start, start, "\n")
	case 10: // a comment below or above
		if r.IntN(2) == 0 {
			return f.Edit(start, start, "@ a note\n")
		}
		return f.Edit(start+len(l), start+len(l), "\n\t@ a note")
	case 11: // takes an empty line or a comment away
		for i := range f.NumLines() - 1 {
			if k := (line + i) % (f.NumLines() - 1); len(f.Line(k).Stmts) == 0 {
				return f.Edit(f.LineStart(k), f.LineStart(k+1), "")
			}
		}
	}
	other := f.LineStart(r.IntN(f.NumLines()))
	if r.IntN(2) == 0 { // a line from elsewhere
		end := other + strings.IndexByte(text[other:]+"\n", '\n')
		return f.Edit(start, start, text[other:end]+"\n")
	}
	return f.Edit(start, start+len(l), "")
}

// TestAgain edits programs at random, and compares what an analysis says that has the one
// before with what one without says.
func TestAgain(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	texts := againTexts(t)
	number, seed := reftest.Count(60, 600, 20000), reftest.Seed(1)
	edits, taken, moved := 0, 0, 0
	for k := 0; k < number; k++ {
		r := rand.New(rand.NewPCG(uint64(seed+k), 11))
		analyze := func(f *syntax.File, before *Result) *Result {
			res, err := Analyze(context.Background(), &Input{Path: "box.s", File: f, Before: before})
			if err != nil {
				t.Fatal(err)
			}
			return res
		}
		f := syntax.Parse(texts[k%len(texts)])
		before := analyze(f, nil)
		var undo []*syntax.File
		for range 12 {
			undo = append(undo, f)
			if f = againEdit(r, f); r.IntN(5) == 0 {
				f = undo[len(undo)-1-r.IntN(min(2, len(undo)))]
			}
			now, fresh := analyze(f, before), analyze(f, nil)
			edits++
			if sameOrder(now, before) {
				taken++
			} else if now.TookOver() {
				moved++
			}
			got, want := againBoth(now, fresh)
			if got != want {
				t.Fatalf("seed %d, text %d: after an edit of\n%s\nto\n%s\n%s", seed+k, k%len(texts), before.prog.File.Text(), f.Text(), firstDifference(got, want))
			}
			if now.kept.same { // what is known of values has been handed on
				if got, want := againBoth(before, analyze(before.prog.File, nil)); got != want {
					t.Fatalf("seed %d, text %d: asked again after an edit,\n%s\n%s", seed+k, k%len(texts), before.prog.File.Text(), firstDifference(got, want))
				}
			}
			if a, b := now.kept.marks, fresh.kept.marks; a != b && a.done && b.done {
				t.Fatalf("seed %d, text %d: lines are counted as %v, want %v, in\n%s", seed+k, k%len(texts), a, b, f.Text())
			}
			before = now
		}
	}
	proof.Counted("%d edits, %d taken over, and %d that move what is below", edits, taken, moved)
	if edits >= 500 && taken < edits/3 {
		t.Errorf("%d of %d edits are taken over, want a third", taken, edits)
	}
}

// TestAgainNot makes edits of one line that concern others, or more of the line than it seems.
func TestAgainNot(t *testing.T) {
	t.Parallel()
	const head = ".syntax unified\n.arch armv4t\n.thumb\n"
	for _, c := range []struct{ name, text, old, new string }{
		{"a line for the preprocessor in place of a comment", "@ aspects\nmovs r0, #ASPECT\n", "@ aspects", "#define ASPECT 4"},
		{"another name of a register", ".arm\nspeed .req r1\nsteed .req r2\nldr r0, [r3, -speed]\n", "-speed", "-steed"},
		{"a comment in a macro", ".macro light\n@ red\nmovs r8, #1\n.endm\nlight\n", "@ red", "@ green"},
		{"a longer name in a line with a finding", "f: .byte 1\nldr r0, [r1]\n", "ldr", "ldrb"},
		{"another register in the way of an address", "f: ldr r3, =f\nlsls r3, r3, #1\nbx r3\n", "lsls r3, r3", "lsls r4, r4"},
		{"a label with a number that is not there", "f: nop\n.word 4\n", "4\n", "1b\n"},
		{"a number that is shifted too far", "f: movs r0, #1<<4\n", "<<4", "<<70"},
		{"a constant that was not known yet", ".equ N, M\n.equ K, 4\nf: movs r0, #K\n.equ M, 3\n", "#K", "#N"},
		{"a constant that was not known yet, and is wide so", ".arch armv7-m\n.equ N, M\n.equ K, 4\nf: ldr r0, [r1, #K]\n.equ M, 8\n", "#K", "#N"},
		{"what cannot be assembled in place of a line", "f: movs r0, #1\nbx lr\n", "movs r0, #1", "movs r8, #1"},
	} {
		ask := func(f *syntax.File, before *Result) *Result {
			res, err := Analyze(context.Background(), &Input{Path: "box.s", File: f, Before: before})
			if err != nil {
				t.Fatal(err)
			}
			return res
		}
		f := syntax.Parse(head + c.text)
		at := strings.Index(f.Text(), c.old)
		g := f.Edit(at, at+len(c.old), c.new)
		before := ask(f, nil)
		now, fresh := ask(g, before), ask(g, nil)
		got, want := againBoth(now, fresh)
		if got != want {
			t.Errorf("%s: %s", c.name, firstDifference(got, want))
		}
		if a, b := now.kept.marks, fresh.kept.marks; a != b && a.done && b.done {
			t.Errorf("%s: lines are counted as %v, want %v", c.name, a, b)
		}
		if want == againSays(before) {
			t.Errorf("%s: the edit changes nothing", c.name)
		}
	}
}

// TestAgainElsewhere takes programs over whose text is read anew, in the background or by an
// .include of its own.
func TestAgainElsewhere(t *testing.T) {
	const head = ".syntax unified\n.thumb\n"
	long := strings.Repeat("movs r0, #1\nmovs r1, #2\n", 4000)
	for _, c := range []struct{ name, text, old, new string }{
		{"a long text", head + long + "movs r2, #3\n", "#3", "#300"},
		{"behind the end", head + long + ".end\n" + long + "movs r2, #3\n", "#3", "#4"},
		{"a text that includes itself", head + ".ifndef K\n.equ K, 1\n.include \"box.s\"\n.endif\nmovs r2, #3\n", "#3", "#4"},
	} {
		ask := func(text string, before *Result) *Result {
			f := syntax.Parse(text)
			res, err := Analyze(context.Background(), &Input{Path: "box.s", File: f, Before: before,
				Load: func(assemble.Wanted) (string, *syntax.File, bool) { return "box.s", f, true }})
			if err != nil {
				t.Fatal(err)
			}
			return res
		}
		text := strings.Replace(c.text, c.old, c.new, 1)
		now, fresh := ask(text, ask(c.text, nil)), ask(text, nil)
		if got, want := againBoth(now, fresh); got != want {
			t.Errorf("%s: %s", c.name, firstDifference(got, want))
		}
	}
}

// sameOrder says whether one program was taken over from another.
func sameOrder(a, b *Result) bool {
	x, y := a.prog.Order, b.prog.Order
	return len(x) > 0 && len(y) > 0 && len(x[0]) > 0 && len(y[0]) > 0 && &x[0][0] == &y[0][0]
}

// againBoth is what two results say that should be equal. How long their assembly took need be
// near only: a layout that begins with what has grown already may end a pass earlier.
func againBoth(now, fresh *Result) (got, want string) {
	got, want = againSays(now), againSays(fresh)
	if a, b := now.prog.Work, fresh.prog.Work; max(a, b)-min(a, b) > 2+b/50 {
		got += fmt.Sprintf("takes %d\n", a)
		want += fmt.Sprintf("takes %d\n", b)
	}
	return got, want
}

// againSays is all that a result says, and all that its program has.
func againSays(r *Result) string {
	var s strings.Builder
	for _, list := range [][]Diagnostic{r.diags, r.each, r.list, r.Diagnostics()} {
		for _, d := range list {
			fmt.Fprintf(&s, "%+v\n", d)
		}
	}
	for k := range r.prog.Items {
		it := &r.prog.Items[k]
		code := "none"
		if it.Match.Form != nil {
			code = fmt.Sprintf("%x %v %v %p", it.Match.Encode(), it.Match.Deferred(), it.Match.Odd(), it.Match.Form)
		}
		fmt.Fprintln(&s, k, code, it.Literal, it.Stmt.Start, it.Stmt.End, r.prog.StmtLoc(it).Location)
	}
	for _, x := range r.prog.Excluded {
		fmt.Fprintln(&s, x)
	}
	for _, x := range r.prog.Sources[1:] { // of macros, too, with their comments
		for i := 0; x.File != nil && i < x.File.NumLines(); i++ {
			fmt.Fprintln(&s, x.File.Line(i).Text)
		}
	}
	for i := range r.prog.Sections {
		fmt.Fprintf(&s, "%+v\n", r.prog.Sections[i])
	}
	for i := range r.prog.Literals {
		l := r.prog.Literals[i]
		fmt.Fprintln(&s, l.Value.Kind, l.Value.N, l.Section, l.Offset, l.Users, l.Item, l.By)
	}
	for _, m := range r.prog.Macros {
		fmt.Fprintln(&s, m.Name, r.prog.MacroAt(m).Location, m.Calls)
	}
	fmt.Fprintln(&s, r.prog.Environments, r.prog.Last, r.prog.ModeSaid, r.prog.Ahead, r.prog.States, len(r.prog.Symbols), r.foreign)
	s.WriteString(told(r, false))
	for _, h := range r.Held(r.prog.Path, 0, r.prog.File.NumLines()) {
		fmt.Fprintln(&s, h.Item.Index, h.Item.Line, h.Reg, h.Text, h.Full)
	}
	for k := 0; k < len(r.prog.Items); k += 5 {
		if it := &r.prog.Items[k]; it.File == 0 && r.prog.Sources[0].Unit == nil {
			h, ok := r.Hover(r.prog.File.LineStart(int(it.Line)) + int(it.Stmt.Start))
			fmt.Fprintf(&s, "%v %+v\n", ok, h)
		}
	}
	return s.String()
}

func firstDifference(got, want string) string {
	a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return fmt.Sprintf("line %d is\n%s\nwant\n%s", i, a[i], b[i])
		}
	}
	return fmt.Sprintf("%d lines, want %d", len(a), len(b))
}

// TestHeldAfter holds that what is known of values is not found out again where an edit changes
// no meaning, also if nobody asked in between, and that what comes after another edit is.
func TestHeldAfter(t *testing.T) {
	f := syntax.Parse(firmware.Text(1, 2000))
	ask := func(before *Result) *Result {
		r, err := Analyze(context.Background(), &Input{Path: "box.s", File: f, Before: before})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	held := func(r *Result) (out string, bytes uint64) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		for _, h := range r.Held("box.s", 0, 200) {
			out += fmt.Sprintln(h.Item.Line, h.Reg, h.Text)
		}
		runtime.ReadMemStats(&after)
		return out, after.TotalAlloc - before.TotalAlloc
	}
	r := ask(nil)
	first, whole := held(r)
	if first == "" {
		t.Fatal("nothing is known")
	}
	for range 3 { // comments, and then a question
		n := f.LineStart(100) - 1
		f = f.Edit(n, n, " @ checked")
		r = ask(r)
	}
	if got, bytes := held(r); got != first || bytes > whole/10 {
		t.Errorf("after comments: %d bytes of %d,\n%swant\n%s", bytes, whole, got, first)
	}
	at := strings.Index(f.Text(), "#")
	f = f.Edit(at+1, at+1, "1")
	again := ask(r)
	if got, bytes := held(again); bytes < whole/10 {
		t.Errorf("after another number: %d bytes of %d\n%s", bytes, whole, got)
	}
	if got, _ := held(r); got != first {
		t.Errorf("the text before: %swant\n%s", got, first)
	}
}

// TestLateAsks holds that other sources are asked whether they include the text only where it
// is looked for what goes wrong when the program runs: to answer, all in the folder is read.
func TestLateAsks(t *testing.T) {
	for text, asks := range map[string]bool{
		"\tmovs r0, #1\n\tbx lr\n":                  true,
		strings.Repeat("\tnop\n", check.MaxItems+1): false, // it is not looked for
	} {
		asked := 0
		r, err := Analyze(context.Background(), &Input{Path: "box.s", File: syntax.Parse("\t.syntax unified\n\t.thumb\nmain:\n" + text), Shared: func() bool { asked++; return false }})
		if err != nil {
			t.Fatal(err)
		}
		r.Diagnostics()
		if asked > 1 || (asked == 1) != asks {
			t.Errorf("%.20q: other sources are asked %d times; once: %t", text, asked, asks)
		}
	}
}

// TestLateTaken holds that what goes wrong when a program runs is taken over where only a comment
// is another, and moved with its lines; that it is looked for again where a statement is another,
// or where another source may use the labels from now on.
func TestLateTaken(t *testing.T) {
	text := "\t.syntax unified\n\t.thumb\nmain:\n\tb out\nred:\n\tmovs r0, #1\n\tbx lr\nout:\n\tldr r1, =0x20000001\n\tldr r2, [r1]\n\tbx lr\n"
	var shared bool
	ask := func(f *syntax.File, before *Result) (*Result, string) {
		r, err := Analyze(context.Background(), &Input{Path: "box.s", File: f, Before: before, Shared: func() bool { return shared }})
		if err != nil {
			t.Fatal(err)
		}
		return r, againSays(r)
	}
	lines := strings.SplitAfter(text, "\n")
	f := syntax.Parse(text)
	before, _ := ask(f, nil)
	before.Diagnostics()
	for _, e := range []struct {
		line    int
		more    string
		taken   bool
		sharing bool
	}{{3, " @ a note", true, false}, {0, "@ the points\n", true, false}, {3, " @ a note", true, false}, {3, "@", false, true}, {5, "1", false, false}} {
		at := 0
		for _, l := range lines[:e.line+1] {
			at += len(l)
		}
		at = max(0, at-1)
		if e.line == 0 {
			at = 0
		}
		g := f.Edit(at, at, e.more)
		shared = e.sharing
		now, got := ask(g, before)
		if taken := now.whole.late == now.kept.late; taken != e.taken {
			t.Errorf("%q in line %d: what goes wrong is taken over: %t, want %t", e.more, e.line+1, taken, e.taken)
		}
		if _, want := ask(g, nil); got != want {
			t.Errorf("%q in line %d: %s", e.more, e.line+1, firstDifference(got, want))
		}
		shared = false
	}
	if !strings.Contains(againSays(before), "misaligned") && len(before.Diagnostics()) == len(before.Early()) {
		t.Error("nothing goes wrong in the program")
	}
}
