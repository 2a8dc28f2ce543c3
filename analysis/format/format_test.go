package format

import (
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// apply makes edits.
func apply(text string, edits []finding.Edit) string {
	var b strings.Builder
	at := 0
	for _, e := range edits {
		b.WriteString(text[at:e.Span.Start] + e.New)
		at = e.Span.End
	}
	return b.String() + text[at:]
}

// habit is what the lines of a table are among: most lines are like that.
const habit = "\tmov\tr0, r1\t\t@ one\n\tadd\tr0, r1\t\t@ two\n\tsub\tr0, r1\t\t@ three\n\tb\thabit\t\t@ four\n\t.word\t1, 2\t\t@ five\n\t.word\t3\t\t@ six\nhabit:\n\t.global\thabit\nother:\n\t.global\tother\n"

// TestLines is a table of lines, and what becomes of each among those of the habit.
func TestLines(t *testing.T) {
	same := ""
	for _, c := range []struct{ line, want string }{
		{" mov r2 ,r3 @ x", "\tmov\tr2, r3\t\t@ x"},
		{"\tmov  r2,r3", "\tmov\tr2, r3"},
		{"lab: mov r2, r3", "lab:\tmov\tr2, r3"},
		{"  lab:", "lab:"},
		{"  1: b 1b", "1:\tb\t1b"},
		{"\tldr\tr2, [r3,#4]", same},
		{"\tpush\t{r4,r5}", same},
		{"\tMOV\tr2, r3", "\tmov\tr2, r3"},
		{"\tMoV\tr2, r3", same},
		{"\tmov\tr2, r3  ", "\tmov\tr2, r3"},
		{"\tmov\tr2, r3\t\t@ x  ", same},
		{"  .global   a", "\t.global\ta"},
		{"  .word   ' ,1", "\t.word\t' ,1"},
		{".ascii  \"two  blanks, @ no comment\"", "\t.ascii\t\"two  blanks, @ no comment\""},
		{"\tnop;  nop", same},
		{" # a   remark", same},
		{"  @ a   remark", same},
		{"  // a   remark", same},
		{"  /* a   remark */", same},
		{" mov r0, /* x */ r1", same},
		{" /* x */ mov r0, r1", same},
		{" mov r0, r1 \\", same},
		{"  x = 5", same},
		{"  x  .req  r3", same},
		{"  .if  1\n  .endif", same},
		{"\t.macro  m  a ,b\n mov r0,  \\a\n .endm ", same},
		{"\t.rept  2\n mov r0,  r1\n .endr ", same},
		{" call  a ,  b", "\tcall\ta ,  b"},
		{"call  a, b", same},
		{"  mov  r0, ]", same},
		{" .ascii \"open\n  mov r0,r1\n \"", same},
		{"/* open\n  mov r0,r1\n*/ mov r0,r1", same},
		{"\tmov\tr0, r1\t\f@ x", same},
		{"\tmov\tr2, r3\t\t@ \U0001F600  x", same},
		{"\tmov\tr2, r3 @ \u00e9", "\tmov\tr2, r3\t\t@ \u00e9"},
		{"\t.end  \n  mov  r0,r1", same},
	} {
		for _, end := range []string{"\n", "\r\n"} {
			lines := func(s string) string { return strings.ReplaceAll(s, "\n", end) }
			want := c.want
			if want == same {
				want = c.line
			}
			text := lines(habit + c.line + "\n")
			f := syntax.ParseAs(text, syntax.Dots)
			if got := apply(text, Edits(f, Options{}, 0, f.NumLines()-1)); got != lines(habit+want+"\n") {
				t.Errorf("%q becomes %q, want %q", c.line, strings.TrimPrefix(got, lines(habit)), want)
			}
		}
	}
}

// TestFirstColumn holds that in the dialects in which a label is what is at the first
// column, nothing leaves it and nothing gets there.
func TestFirstColumn(t *testing.T) {
	for dialect, text := range map[syntax.Dialect]string{
		syntax.Columns:   "        AREA |.text|, CODE\nstart   MOV r0, r1\n        MOV r2, r3\nloop\n        B loop\nsize    EQU 4\n        END\n  text   that is   left\n",
		syntax.Semicolon: "        .text\nstart   mov r0, r1 ; x\n        mov r2, r3\nloop\n        b loop\n",
		syntax.Modules:   "        MODULE box\n        SECTION .text:CODE\nstart:  MOV r0, r1\n        MOV r2, r3\nloop\n        B loop\n        END\n",
	} {
		for _, set := range [][]string{nil, {"instructions=0", "directives=0", "data=0", "labels=4"}, {"instructions=30", "directives=2", "labels=0"}} {
			o, err := Parse(set)
			if err != nil {
				t.Fatal(err)
			}
			f := syntax.ParseAs(text, dialect)
			now := strings.Split(apply(text, Edits(f, o, 0, f.NumLines()-1)), "\n")
			for i, line := range strings.Split(text, "\n") {
				if line != "" && (line[0] == ' ') != (now[i][0] == ' ' || now[i][0] == '\t') || strings.Join(strings.Fields(line), "") != strings.Join(strings.Fields(now[i]), "") {
					t.Errorf("%v %q: %q becomes %q", dialect, set, line, now[i])
				}
			}
		}
	}
}

// TestSet is a table of settings, and what they make of two lines.
func TestSet(t *testing.T) {
	const text = "box:\tmov\tr0,r1\t@ one\n\t.word 1\n"
	for _, c := range []struct{ set, want string }{
		{"", text},
		{"instructions=4 operands=8 blanks=spaces", "box:    mov r0,r1       @ one\n        .word 1\n"},
		{"operands=space comments=space", "box:\tmov r0,r1 @ one\n\t.word 1\n"},
		{"comments=40 commas=space", "box:\tmov\tr0, r1\t\t\t@ one\n\t.word 1\n"},
		{"comments=41", "box:\tmov\tr0,r1\t\t\t @ one\n\t.word 1\n"},
		{"data=0 case=upper", "box:\tMOV\tr0,r1\t@ one\n.word 1\n"},
		{"labels=2", "  box:\tmov\tr0,r1\t@ one\n\t.word 1\n"},
		{"instructions=keep operands=keep comments=keep case=keep commas=keep blanks=keep data=keep directives=keep labels=keep", text},
	} {
		o, err := Parse(strings.Fields(c.set))
		if err != nil {
			t.Fatal(err)
		}
		f := syntax.ParseAs(text, syntax.Dots)
		if got := apply(text, Edits(f, o, 0, f.NumLines()-1)); got != c.want {
			t.Errorf("%s: %q, want %q", c.set, got, c.want)
		}
	}
}

// TestPart holds that only the lines that are asked for are changed, by the habit of the
// whole file.
func TestPart(t *testing.T) {
	const twice = habit + habit
	text := twice + " mov r0,r1\n mov r2,r3\n mov r4,r5\n"
	f := syntax.ParseAs(text, syntax.Dots)
	n := strings.Count(twice, "\n")
	if got, want := apply(text, Edits(f, Options{}, n+1, n+1)), twice+" mov r0,r1\n\tmov\tr2, r3\n mov r4,r5\n"; got != want {
		t.Errorf("%q", strings.TrimPrefix(got, twice))
	}
	if edits := Edits(f, Options{}, 5, 2); edits != nil {
		t.Errorf("%+v", edits)
	}
}

// FuzzFormat holds of any text that edits keep to lines, change blanks and the case of letters
// only, give the same statements, and that formatting twice is formatting once.
func FuzzFormat(f *testing.F) {
	f.Add(habit+" mov r2,r3\n", uint8(0), uint8(0))
	f.Add("  .ascii \"x\n\ty: MOV r0 ,r1 ;nop\r\n.macro a\n b\n.endm\n#if 0\n x\n#endif\n.end\n z", uint8(3), uint8(1))
	f.Add("\tAREA x\nl MOV r0,r1 ; x\n MACRO\n$a m\n MEND\n", uint8(1), uint8(2))
	sets := [][]string{nil, {"case=upper", "comments=40"}, {"instructions=0", "labels=3", "operands=space"}, {"blanks=spaces", "commas=none"}, {"operands=20", "blanks=tabs", "comments=tab"}}
	f.Fuzz(func(t *testing.T, text string, set, dialect uint8) {
		o, err := Parse(sets[int(set)%len(sets)])
		if err != nil {
			t.Fatal(err)
		}
		file := syntax.ParseAs(text, syntax.Dialect(dialect%4))
		now := apply(text, Edits(file, o, 0, file.NumLines()-1))
		plain := func(s string) string {
			return strings.ToLower(strings.NewReplacer(" ", "", "\t", "").Replace(s))
		}
		if plain(now) != plain(text) || strings.Count(now, "\n") != strings.Count(text, "\n") {
			t.Fatalf("%q becomes %q", text, now)
		}
		after := syntax.ParseAs(now, file.Dialect())
		if file.NumStmts() != after.NumStmts() {
			t.Fatalf("%q becomes %q, which has other statements", text, now)
		}
		if again := Edits(after, o, 0, after.NumLines()-1); len(again) > 0 {
			t.Fatalf("%q becomes %q, and then %q", text, now, apply(now, again))
		}
	})
}
