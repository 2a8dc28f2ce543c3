package analysis

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// TestOneMistake holds that one mistake is one finding, which says where else it is met, that
// nothing else that is wrong is hidden by it, and which rewrite mends all of it.
func TestOneMistake(t *testing.T) {
	fill := func(line string, n int) string { return strings.Repeat(line+"\n", n) }
	const wrong = " adds r0, r9, r1\n" // whatever else is mended
	cases := []struct {
		name, src string
		want      []string // code:line+places of the same cause
		rewrite   string
		left      []string // after it
	}{
		{"no .thumb", ".cpu cortex-m0\n.syntax unified\n" + fill(" movs r0, #1", 50) + wrong, []string{"not-on-architecture:3+50", "low-registers:53+0"}, "add-mode", []string{"low-registers:54+0"}},
		{"no .thumb, label first", ".cpu cortex-m23\n.syntax unified\n.type f,%function\nf: push {r4, lr}\n bl f\n ldr r0, =f\n pop {r4, pc}\n", []string{"not-on-architecture:4+3"}, "add-mode", nil},
		{".arm", ".cpu cortex-m3\n.syntax unified\n.thumb\nf: bx lr\n.arm\n" + fill("g: mov r0, #1\n bx lr", 1) + fill(" mov r0, #1", 9), []string{"not-on-architecture:5+11"}, "add-mode", nil},
		{"no .syntax", ".cpu cortex-m0\n.thumb\n movs r0, #1\n" + fill(" adds r0, r0, r1\n subs r1, #1", 20) + wrong + fill(" bx lr", 1), []string{"flags-form:4+39", "low-registers:44+0"}, "add-unified", []string{"low-registers:45+0"}},
		// What is right in the divided syntax alone would be otherwise.
		{"divided on purpose", ".cpu cortex-m0\n.thumb\n mov r0, #1\n" + fill(" adds r0, r0, r1", 2), []string{"flags-form:4+1"}, "", nil},
		{"means otherwise", ".cpu cortex-m3\n.thumb\n add r0, r1\n" + fill(" subs r1, #1", 2), []string{"flags-form:4+1"}, "", nil},
		{"divided T32", ".cpu cortex-m3\n.thumb\nf: movw r0, #1\n ldr.w r1, [r0, #200]\n ite eq\n moveq r3, #1\n movne r3, #2\n ubfx r2, r1, #3, #4\n bx lr\n", []string{"flags-form:4+3"}, "add-unified", nil},
		{".arm in a macro", ".cpu cortex-m0\n.syntax unified\n.macro func name\n.arm\n.global \\name\n\\name:\n.endm\n func lamp\n" + fill(" movs r0, #1\n bx lr", 3), []string{"not-on-architecture:9+5"}, "add-mode", nil},
		{"no .thumb, a repetition first", ".cpu cortex-m4\n.syntax unified\n.rept 4\n movs r0, #1\n.endr\n" + fill(" bx lr", 3), []string{"not-on-architecture:4+3"}, "add-mode", nil},
		{"Thumb code in A32", ".arch armv7-a\n.syntax unified\n" + fill(" cmp r0, #0", 4) + " cbz r0, 1f\n ldr.w r1, [r0]\n1: tbb [pc, r0]\n bx lr\n", []string{"no-such-form:7+2"}, "add-mode", nil},
		{"Thumb code in divided A32", ".arch armv7-a\n cmp r0, #0\n cbz r0, 1f\n cbnz r1, 1f\n nop\n1: ite eq\n moveq r0, #1\n movne r0, #2\n bx lr\n", []string{"no-such-form:3+1"}, "add-mode", nil},
		{"A32 code with two lines of T32", ".arch armv7-a\n.syntax unified\n cbz r0, 1f\n1: cbnz r1, 2f\n2: addne r0, r0, #1\n bx lr\n", []string{"no-such-form:3+0", "no-such-form:4+0"}, "", nil},
		{".arm is said", ".arch armv7-a\n.syntax unified\n.arm\n cbz r0, 1f\n1: cbnz r1, 2f\n2: bx lr\n", []string{"no-such-form:4+0", "no-such-form:5+0"}, "", nil},
		{"comments", ".syntax unified\n.thumb\n nop @ a\n nop @ b\n nop @ c\n" + fill(" movs r0, #1 ; the first track", 4) + " nop ; wait\n nop; nop\n" + wrong, []string{"syntax:6+4", "low-registers:12+0"}, "comment-mark", []string{"low-registers:12+0"}},
		{"a statement is none", ".syntax unified\n.thumb\n nop @ a\n movs r0, #1 ; adsd r0, r1\n movs r0, #1; mvoe r0, r1\n", []string{"unknown-mnemonic:4+0", "unknown-mnemonic:5+0"}, "", nil},
		{"no macro", fill(" lamp_on r0", 50) + " lamp_off r0\n" + wrong, []string{"unknown-mnemonic:1+49", "unknown-mnemonic:51+0"}, "", nil},
		{"no constant", ".syntax unified\n.thumb\n" + fill(" movs r0, #LAMPS", 20), []string{"undefined-symbol:3+19"}, "", nil},
		{"no unit", ".cpu cortex-m4\n.syntax unified\n.thumb\n" + fill(" vadd.f32 s0, s1, s2\n vldr s3, [r0]", 10) + wrong[:0], []string{"not-on-architecture:4+19"}, "", nil},
		{"no directive", fill(" .signal 1", 12), []string{"unknown-directive:1+11"}, "", nil},
		{"open macro", ".macro lamp\n nop\n" + fill(" adds r0, #1\n lamp", 30), []string{"macro-definition:1+0"}, "", nil},
		{"open condition", ".if 1\n" + fill(" mov r0, #1", 30), []string{"directive-argument:1+0"}, "", nil},
		{"open comment", " mov r0, #1\n/* the lamps\n" + fill(" adds r0, r16, #1", 30), nil, "", nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r := analyze(t, nil, c.src)
			if got := causes(r); !slices.Equal(got, c.want) {
				t.Errorf("%q, want %q in\n%s", got, c.want, c.src)
				for _, d := range r.Diagnostics() {
					t.Log(d.Message)
				}
			}
			if len(c.want) == 0 {
				return
			}
			var offers []string
			for _, a := range r.Actions(context.Background(), r.Early()[0].Span) {
				switch a.Rewrite {
				case "add-mode", "add-unified", "comment-mark":
					offers = append(offers, a.Rewrite)
					if left := causes(analyze(t, nil, apply(c.src, a.Edits))); !slices.Equal(left, c.left) {
						t.Errorf("%s leaves %q, want %q", a.Rewrite, left, c.left)
					}
				}
			}
			if got := strings.Join(offers, " "); got != c.rewrite {
				t.Errorf("offered %q, want %q", got, c.rewrite)
			}
		})
	}
}

// causes lists the errors of a program: code, line, and how many more places.
func causes(r *Result) (out []string) {
	for _, d := range r.Diagnostics() {
		if d.Severity == finding.Error {
			out = append(out, fmt.Sprintf("%s:%d+%d", d.Code, r.in.File.LineAt(d.Span.Start)+1, len(d.Same)))
		}
	}
	return out
}

// TestOpenComment holds that a comment without an end is said to be one, as the assembler
// warns of it, and nothing in it is looked at.
func TestOpenComment(t *testing.T) {
	for src, line := range map[string]int{
		" mov r0, #1\n/* the lamps\n adds r0, r16, #1\n": 2, "/* a */ nop /* b\n x\n": 1, "/* a\n*/ nop\n/* b\n": 3, "/* a */\n nop\n": 0, " nop @ /* b\n nop\n": 0,
		" .ascii \"/*\"\n nop\n": 0, " nop\n/*": 2,
	} {
		r := analyze(t, nil, src)
		got := 0
		for _, d := range r.Diagnostics() {
			if d.Severity == finding.Warning && d.Code == finding.CodeSyntax {
				got = r.in.File.LineAt(d.Span.Start) + 1
			}
		}
		if got != line {
			t.Errorf("%q: line %d, want %d", src, got, line)
		}
	}
}

// TestNoRegister holds that names beyond the registers are said to be none.
func TestNoRegister(t *testing.T) {
	for _, c := range []struct{ line, name string }{
		{"movs r16, #1", "r16"}, {"adds r0, r1, r17", "r17"}, {"ldr r0, [r16]", "r16"}, {"ldr r0, [r1, r16]", "r16"}, {"push {r0, r16}", "r16"},
		{"cmp r20, r1", "r20"}, {"bx r16", "r16"}, {"mov r99, r0", "r99"}, {"str r16, [r0]", "r16"}, {"ldr r16, =1", "r16"}, {"stmia r16!, {r0}", "r16"},
	} {
		for _, head := range []string{".syntax unified\n.thumb\n", ".arch armv7-m\n.syntax unified\n.thumb\n", ".arch armv7-a\n.syntax unified\n.arm\n"} {
			r := analyze(t, nil, head+" "+c.line+"\n")
			if !slices.ContainsFunc(r.Diagnostics(), func(d Diagnostic) bool {
				return d.Severity == finding.Error && strings.Contains(d.Message, c.name) && strings.Contains(d.Message, "register")
			}) {
				t.Errorf("%s%s: %v", head, c.line, r.Diagnostics())
			}
		}
	}
	for text, want := range map[string]int{"x .req r16\n": 1, "x .req R20\n": 1, "x .req r9\n": 0, "x .req s16\n": 0, "x .req wr12\n": 0, "y .req r5\nx .req y\n": 0} {
		n := 0
		for _, d := range analyze(t, nil, text).Diagnostics() {
			if d.Severity == finding.Warning {
				n++
			}
		}
		if n != want {
			t.Errorf("%q: %d warnings", text, n)
		}
	}
	// Symbols may have such names.
	for _, text := range []string{".equ r16, 3\n.syntax unified\n.thumb\n movs r0, #r16\n", ".syntax unified\n.thumb\nr16: b r16\n", ".arm\nd40: bl d40\n ldr r0, =r16\n bl r17\n bx lr\n"} {
		for _, d := range analyze(t, nil, text).Diagnostics() {
			if d.Severity <= finding.Warning {
				t.Errorf("%q: %s", text, d.Message)
			}
		}
	}
}

// TestTyped holds that a pool below the line that is being typed at the end of a file is not
// said to be in the path, and that it is in a text that is saved, or typed elsewhere.
func TestTyped(t *testing.T) {
	const src = ".syntax unified\n.thumb\nf: movs r1, #1\n ldr r0, =0x12345678\n\n@ more\n"
	at := func(s string) int { return strings.Index(src, s) + len(s) }
	for _, c := range []struct {
		src   string
		typed int
		warns bool
	}{
		{src, 0, true}, {src, at("5678"), false}, {src, at("5678\n"), false}, {src, at("more"), false}, {src, at("#1"), true}, {src, at(".thumb"), true},
		{src + " .ltorg\n bx lr\n", at("5678"), true}, {src + " bx lr\n", at("5678"), false},
		{strings.ReplaceAll(src, "@ more", ".if 0"), len(src) - 1, false}, {strings.ReplaceAll(src, "@ more", ".equ N, 1"), len(src), false},
		{strings.ReplaceAll(src, "@ more", ".equ N, 1"), at("5678"), true},
	} {
		r, err := Analyze(context.Background(), &Input{Path: "a.s", File: syntax.Parse(c.src), Typed: c.typed})
		if err != nil {
			t.Fatal(err)
		}
		if got := slices.ContainsFunc(r.Diagnostics(), func(d Diagnostic) bool { return d.Code == finding.CodePoolPath }); got != c.warns {
			t.Errorf("%q, typed up to %d: warns %v", c.src, c.typed, got)
		}
	}
}

// TestTypedErrors holds that what the assembler refuses is said while it is typed.
func TestTypedErrors(t *testing.T) {
	for _, begun := range []string{".if 1\n nop", ".macro lamp\n nop", ".rept 3\n nop", ".irp n, 1, 2\n nop", "/* the lamp", ".cfi_startproc\n nop", " beq 1f"} {
		src := ".cpu cortex-m3\n.syntax unified\n.thumb\n" + begun + "\n"
		for _, typed := range []int{0, 5, len(src) - 1, len(src)} {
			r, err := Analyze(context.Background(), &Input{Path: "a.s", File: syntax.Parse(src), Typed: typed})
			if err != nil {
				t.Fatal(err)
			}
			if len(r.Diagnostics()) == 0 {
				t.Errorf("%q, typed up to %d: nothing is said", src, typed)
			}
		}
	}
	r := analyze(t, nil, ".if 1\n nop\n")
	if d := r.Diagnostics(); len(d) == 0 || d[0].Message != "This condition has no .endif." {
		t.Errorf("%v", d)
	}
}

// TestOneMistakeByFile holds that what one mistake brings is one finding in each file, and
// that rewrites are offered at all places.
func TestOneMistakeByFile(t *testing.T) {
	text := ".include \"lamps.inc\"\n" + strings.Repeat(" lamp_on\n", 3)
	r, err := Analyze(context.Background(), &Input{Path: "a.s", File: syntax.Parse(text), Load: func(w Wanted) (string, *syntax.File, bool) {
		return "lamps.inc", syntax.Parse(" lamp_on\n lamp_on\n"), w.Name == "lamps.inc"
	}})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, d := range r.Diagnostics() {
		got = append(got, fmt.Sprintf("%s+%d", d.Path, len(d.Same)))
	}
	if want := []string{"a.s+2", "lamps.inc+1"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	src := ".cpu cortex-m0\n.thumb\n movs r0, #1\n adds r0, r0, r1\n adds r0, r0, r2\n"
	r = analyze(t, nil, src)
	at := strings.Index(src, "adds r0, r0, r2")
	if acts := r.Actions(context.Background(), finding.Span{Start: at, End: at}); len(acts) != 2 {
		t.Errorf("%d rewrites at the second place, want 2", len(acts))
	}
}

// TestOtherStart holds that A32 code which settings start as Thumb code is one finding, with the
// rewrite for it, and that it is not one where the source says so, or not all of it is.
func TestOtherStart(t *testing.T) {
	const code = "lamp: stmfd sp!, {r4-r9, lr}\n mov r4, #0xff000000\n ldrb r7, [r0], #1\n add r4, r4, r7, lsl #2\n subs r1, r1, #1\n addne r4, r4, #1\n rsb r8, r4, #0\n ldmfd sp!, {r4-r9, pc}\n"
	for _, c := range []struct {
		name, src string
		cpu       string
		want      int
		left      string
	}{
		{"unified", ".syntax unified\n" + code, "arm7tdmi", 1, ""},
		{"divided", code, "arm7tdmi", 1, ""},
		{"Thumb code said", ".syntax unified\n.thumb\n" + code, "arm7tdmi", 6, ""},
		{"no A32", ".syntax unified\n" + code, "cortex-m0", 6, ""},
		{"a slip", ".syntax unified\n" + strings.Repeat(code[6:], 3) + " mvn r0, r16\n", "arm7tdmi", 2, "mvn"},
	} {
		r := analyze(t, &Settings{CPU: c.cpu, StartMode: "thumb"}, c.src)
		if got := len(causes(r)); got != c.want && !(c.want > 2 && got > 2) {
			t.Errorf("%s: %d errors, want %d: %v", c.name, got, c.want, causes(r))
		}
		if c.want > 2 {
			continue
		}
		mended := false
		for _, a := range r.Actions(context.Background(), r.Early()[0].Span) {
			if a.Rewrite != "add-mode" {
				continue
			}
			mended = true
			after := analyze(t, &Settings{CPU: c.cpu, StartMode: "thumb"}, apply(c.src, a.Edits))
			if n := len(causes(after)); n != c.want-1 || a.Safe {
				t.Errorf("%s: %s leaves %v", c.name, a.Title, causes(after))
			}
		}
		if !mended {
			t.Errorf("%s: no rewrite", c.name)
		}
	}
}

// TestUndefinedBuild holds that what hangs on macros of an unknown command line is a hint, and
// an error where the command line is known.
func TestUndefinedBuild(t *testing.T) {
	for _, c := range []struct{ src, says string }{
		{"#if ENABLED(LAMPS)\n nop\n#endif\n bx lr\n", "ENABLED"},
		{"#ifdef A\n#elif ENABLED(LAMPS) && 1\n#endif\n bx lr\n", "ENABLED"},
		{"#include BOX_HEADER\n bx lr\n", "BOX_HEADER"},
		{"#ifdef BOX_A\n#define LAMPS 4\n#elif defined(BOX_B)\n#define LAMPS 9\n#endif\n mov r0, #LAMPS\n bx lr\n", "LAMPS"},
		{"#ifdef BOX_A\n.macro lamp_on n\n nop\n.endm\n#endif\n lamp_on 3\n bx lr\n", "lamp_on"},
	} {
		for _, known := range []bool{false, true} {
			in := &Input{Path: "box.S", File: syntax.Parse(c.src)}
			want := finding.Hint
			if known {
				in.Set, want = &Settings{CPU: "arm7tdmi"}, finding.Error
			}
			r, err := AnalyzeGuessing(context.Background(), in)
			if err != nil {
				t.Fatal(err)
			}
			found := false
			for _, d := range r.Diagnostics() {
				found = found || strings.Contains(d.Message, c.says) && d.Severity == want
				if d.Severity < want {
					t.Errorf("%q: %s", c.src, d.Message)
				}
			}
			if !found && !(known && c.says == "BOX_HEADER") {
				t.Errorf("%q, known %v: %v", c.src, known, r.Diagnostics())
			}
		}
	}
	// What is defined nowhere is an error as ever.
	r, _ := AnalyzeGuessing(context.Background(), &Input{Path: "box.S", File: syntax.Parse("#ifdef A\n#define OTHER 1\n#endif\n mov r0, #LAMPS\n")})
	if got := causes(r); len(got) != 1 {
		t.Errorf("a name that is defined nowhere: %v", got)
	}
}
