package analysis

import (
	"context"
	"runtime"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// TestGuess holds what sources are taken for that do not say it.
func TestGuess(t *testing.T) {
	plain := strings.Repeat("\tadds r0, r0, #1\n\tlsls r1, r0, #2\n\tldr r2, [r1, #4]\n", 40)
	for _, c := range []struct{ name, text, arch, mode, syntax, fpu string }{
		{"what the default takes", ".syntax unified\n.thumb\n" + plain, "", "", "", ""},
		{"a slip among many lines", ".syntax unified\n.thumb\n" + plain + "\tsubs r8, r8, #1\n", "", "", "", ""},
		{"several slips among a few lines", ".syntax unified\n.thumb\n\tpush {r4, lr}\n\tldrsb r1, [r4, #3]\n\tsubs r8, r8, #1\n\tadds r1, r1, r0, lsl #2\n\tstr lr, [sp, #-4]!\n\tands r1, #0xff\n\tmovs r0, #300\n\tpop {r4, pc}\n", "", "", "", ""},
		{"operands as usual in T32", ".syntax unified\n.thumb\n\tpush {r4-r8, lr}\n" + strings.Repeat("\tldr r8, [r0], #4\n\tadd r9, r8, r1, lsl #2\n\tstr r9, [r2, #-8]!\n\tsubs r3, #1\n", 5) + "\tpop {r4-r8, pc}\n", "armv7-m", "", "", ""},
		{"a constant too large", ".syntax unified\n.thumb\n" + plain + "\tmovs r0, #300\n", "", "", "", ""},
		{"a name that no core has", ".syntax unified\n.thumb\n" + plain + "\tmvoe r0, r1\n", "", "", "", ""},
		{"interrupts masked", ".syntax unified\n.thumb\n" + plain + "\tcpsid i\n\tcpsie i\n", "armv6", "", "", ""},
		{"a barrier, too", ".syntax unified\n.thumb\n" + plain + "\tcpsid i\n\tdsb\n\tisb\n\tmrs r0, primask\n\tsvc #1\n", "armv6s-m", "", "", ""},
		{"M profile by a special register", ".syntax unified\n.thumb\n\tpush {r4-r11, lr}\n\tmov r0, #80\n\tmsr basepri, r0\n\tisb\n\tmrs r0, psp\n\tstmdb r0!, {r4-r11}\n\tpop {r4-r11, pc}\n", "armv7-m", "", "", ""},
		{"M profile by nothing but that", ".syntax unified\n.thumb\n\tmrs r0, psp\n\tmsr basepri, r0\n\tbx lr\n", "armv7-m", "", "", ""},
		{"and floating point", ".syntax unified\n.thumb\n\tmrs r0, psp\n\ttst lr, #0x10\n\tit eq\n\tvstmdbeq r0!, {s16-s31}\n\tmsr psp, r0\n\tbx lr\n", "armv7-m", "", "", "fpv5-d16"},
		{"DSP", ".syntax unified\n.thumb\n\tsmlad r0, r1, r2, r3\n\tmsr basepri, r0\n\tsadd16 r0, r1, r2\n", "armv7e-m", "", "", ""},
		{"A profile", ".syntax unified\n.arm\n\tmovw r0, #1234\n\tmrc p15, 0, r0, c1, c0, 0\n\tdsb\n\tvmov.i8 q0, #0\n\tcpsid i\n", "armv7-a+mp+sec", "", "", "crypto-neon-fp-armv8.1"},
		{"hypervisor", ".syntax unified\n.arm\n\tmovw r0, #1234\n\thvc #1\n\tmsr elr_hyp, r0\n\teret\n", "armv7ve", "", "", ""},
		{"unified without a word", "\tmovs r0, #1\n\tadds r0, r0, r1\n\tpush {r0, lr}\n\tmuls r0, r1, r0\n\tpop {r0, pc}\n", "", "", "", ""},
		{"thumb without a word", "\tnegs r0, r1\n\tmuls r0, r1, r0\n\tcbz r0, 1f\n\tcbnz r1, 1f\n\tmsr basepri, r0\n1:\tbx lr\n", "armv7-m", "thumb", "unified", ""},
		{"in a long repetition", ".syntax unified\n.thumb\n.rept 300000\n\tcpsid i\n.endr\n", "armv6", "", "", ""},
		{"behind long repetitions", ".syntax unified\n.thumb\n" + strings.Repeat(".rept 19999\n\tadds r0, r0, #1\n.endr\n", 4) + "\tcpsid i\n", "armv6", "", "", ""},
		{"directives win", ".cpu cortex-m0\n.syntax unified\n.thumb\n\tubfx r0, r1, #1, #2\n\tbfc r0, #1, #2\n", "", "", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := &Input{Path: "box.s", File: syntax.Parse(c.text)}
			g, err := GuessTarget(context.Background(), in, analyze(t, nil, c.text))
			if err != nil {
				t.Fatal(err)
			}
			want := Settings{Arch: c.arch, StartMode: c.mode, Syntax: c.syntax, FPU: c.fpu}
			if g == nil {
				g = &Guess{}
			}
			if got := g.Settings; got.Arch != want.Arch || got.StartMode != want.StartMode || got.Syntax != want.Syntax || got.FPU != want.FPU {
				t.Errorf("taken for %+v, want %+v", got, want)
			}
			never := *in
			never.Set = &Settings{Guess: "never"}
			if g, _ := GuessTarget(context.Background(), &never, analyze(t, never.Set, c.text)); g != nil {
				t.Errorf("guessed %v, and should not", g)
			}
		})
	}
}

// TestGuessLooksAhead holds that a guess looks at the beginning of a source only.
func TestGuessLooksAhead(t *testing.T) {
	const head, line = ".syntax unified\n.thumb\n", "\trev r0, r1\n"
	for _, c := range []struct {
		before int // lines in front of the one that speaks for something
		want   bool
	}{{maxGuessed - 10, true}, {maxGuessed + 10, false}} {
		text := head + strings.Repeat("\tnop\n", c.before) + line
		g, err := GuessTarget(context.Background(), &Input{Path: "box.s", File: syntax.Parse(text)}, analyze(t, nil, text))
		if err != nil || (g != nil) != c.want {
			t.Errorf("after %d lines: %v, %v", c.before, g, err)
		}
	}
}

// TestGuessCores holds that a plain armv7-a of a build file stands for the cores that have what
// a source needs, and for nothing more where it needs nothing.
func TestGuessCores(t *testing.T) {
	told := func() []Evidence {
		return []Evidence{{Settings: Settings{Arch: "armv4t"}, File: "Makefile", Text: "-march=armv4t"}, {Settings: Settings{Arch: "armv7-a"}, File: "Makefile", Text: "-march=armv7-a"}}
	}
	for text, want := range map[string]string{
		"\tstmfd sp!, {r4-r11, lr}\n\tsmc #0\n\tldmfd sp!, {r4-r11, pc}\n":                        "armv7-a+mp+sec",
		"\t.arch_extension sec\n\tstmfd sp!, {r4-r11, lr}\n\tsmc #0\n\tldmfd sp!, {r4-r11, pc}\n": "armv7-a+mp+sec",
		"\tpldw [r0]\n\tbx lr\n":                                        "armv7-a+mp+sec",
		"\tmovw r0, #1234\n\tbx lr\n":                                   "armv7-a",
		"\tmov r0, #12\n\tbx lr\n":                                      "armv4t",
		"\thvc #1\n\tsmc #0\n\tbx lr\n\tldr r0, [r1]\n\tldr r1, [r2]\n": "armv7-a+mp+sec",
	} {
		g, err := GuessTarget(context.Background(), &Input{Path: "box.s", File: syntax.Parse(text), Evidence: told}, analyze(t, nil, text))
		if err != nil {
			t.Fatal(err)
		}
		if g == nil || g.Settings.Arch != want {
			t.Errorf("%q: %+v, want %s", text, g, want)
		}
	}
}

// TestGuessProgram holds that a guess, which asks only for programs, gets those that an analysis
// makes, though nothing is found in them.
func TestGuessProgram(t *testing.T) {
	ctx := context.Background()
	said := 0
	for _, c := range finding.Registry {
		if c.Several() {
			continue
		}
		for _, text := range []string{c.Bad, c.Good} {
			in := &Input{Path: "box.s", File: syntax.Parse(text), Set: &Settings{}}
			r, err := analyzeAs(ctx, in)
			if err != nil {
				t.Fatal(err)
			}
			p, err := programOf(ctx, in)
			if err != nil {
				t.Fatal(err)
			}
			if len(p.Items) != len(r.prog.Items) || refusals(p) != refusals(r.prog) {
				t.Fatalf("%s: %d items, %d refused, want %d and %d", c.Code, len(p.Items), refusals(p), len(r.prog.Items), refusals(r.prog))
			}
			for i := range p.Items {
				a, b := &p.Items[i], &r.prog.Items[i]
				if a.Match != b.Match || a.Offset != b.Offset || a.Size != b.Size || a.Flags != b.Flags {
					t.Errorf("%s: item %d differs", c.Code, i)
				}
			}
			job, _, err := jobOf(in)
			if err != nil {
				t.Fatal(err)
			}
			job.Mute = true
			found, err := assemble.Run(ctx, job)
			if err != nil || len(found.Diags) > 0 {
				t.Fatalf("%s: %d findings, %v", c.Code, len(found.Diags), err)
			}
			if found.Said > 0 {
				said++
			}
		}
	}
	if said < 20 {
		t.Errorf("only %d examples have something wrong", said)
	}
}

// TestGuessBounded rates a program of many wrong lines out of few: so many are looked at.
func TestGuessBounded(t *testing.T) {
	text := ".syntax unified\n.thumb\n.macro lamps\n" + strings.Repeat("ldr r0, [r1, #701]\n", 500) + ".endm\n" + strings.Repeat("lamps\n", 100)
	p, err := programOf(context.Background(), &Input{Path: "box.s", File: syntax.Parse(text), Set: &Settings{Arch: everything}})
	if err != nil {
		t.Fatal(err)
	}
	if c := (&reading{prog: p}).rate(nil); c.odd != maxGuessed || c.all != maxGuessed {
		t.Errorf("%d of %d lines are looked at for all targets, want %d", c.odd, c.all, maxGuessed)
	}
}

// TestGuessAllocates holds what is allocated for wrong lines and the guess that they ask for.
func TestGuessAllocates(t *testing.T) {
	for _, line := range []string{"ldr r0, [r1, #%d]\n", "mov r0, #0x10%04x\n", "mnop%d r0\n"} {
		text := ".syntax unified\n" + manyLines(40_000, line)
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		if _, err := AnalyzeGuessing(context.Background(), &Input{Path: "box.s", File: syntax.Parse(text)}); err != nil {
			t.Fatal(err)
		}
		runtime.ReadMemStats(&after)
		if got := (after.TotalAlloc - before.TotalAlloc) / 40_000; got > 6000 {
			t.Errorf("%q: %d bytes for each line", line, got)
		} else {
			t.Logf("%q: %d bytes for each line", line, got)
		}
	}
}
