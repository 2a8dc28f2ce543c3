package analysis

import (
	"context"
	"fmt"
	"path"
	"runtime"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// looking counts who looks at the context, by package, and is cancelled after so many
// looks of one package; never if none is named.
type looking struct {
	context.Context
	looks map[string]int
	who   string
	after int
	ended bool
}

func (l *looking) Err() error {
	var callers [12]uintptr
	frames := runtime.CallersFrames(callers[:runtime.Callers(2, callers[:])])
	for {
		f, more := frames.Next()
		// Package and file: the walk is the assembly's, as binding is.
		file := strings.TrimSuffix(path.Base(f.File), ".go")
		if f.Function != "" && strings.Contains(f.Function, "/analysis") && !strings.HasSuffix(f.Function, ".Cancelled") && !strings.HasSuffix(f.Function, ".look") && !strings.Contains(f.Function, ".preprocessed.") {
			l.looks[file]++
			l.ended = l.ended || file == l.who && l.looks[file] > l.after
			break
		}
		if !more {
			break
		}
	}
	if l.ended {
		return context.Canceled
	}
	return nil
}

// TestCancelled holds that each part of an analysis looks at the context as often as it
// has work, and that it ends when it sees that it is cancelled, wherever that is.
func TestCancelled(t *testing.T) {
	n := reftest.Size(5_000, 60_000, 60_000)
	var raw, s strings.Builder
	raw.WriteString("#define TURN(x) x, x\n")
	for i := range n {
		fmt.Fprintf(&raw, ".byte TURN(%d)\n", i%200)
		fmt.Fprintf(&s, "l%d:\tbeq l%d\n\tldr r0, =later%d\n\t.word later%d - 1, l%d\n\t.ltorg\n", i, min(i+80, n-1), i%7, i%5, i)
	}
	for i := range 9 {
		fmt.Fprintf(&s, "later%d = . - l0\n", i)
	}
	header := "\t.syntax unified\n\t.thumb\n"
	for _, tt := range []struct {
		path, text string
		set        *Settings
		parts      map[string]int // units of work for which there is a look, at least, by file
	}{
		{"root.S", header + raw.String(), &Settings{}, map[string]int{"file": n / 2000}},
		{"root.S", header + "#define F(x) x x x x x x x x x x x x x x x x\n" + strings.Repeat("F(F(F(F(1))))\n", 20), &Settings{}, map[string]int{"expand": 20}},
		{"root.s", header + s.String(), &Settings{CPU: "cortex-m3"}, map[string]int{"walk": n / 2000, "relax": n / 2000, "bound": n / 2000, "flow": n / 2000, "directive": n / 2000}},
	} {
		f := syntax.Parse(tt.text)
		in := &Input{Path: tt.path, File: f, Set: tt.set}
		ctx := &looking{Context: context.Background(), looks: map[string]int{}}
		if _, err := Analyze(ctx, in); err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %v", tt.path, ctx.looks)
		for who, least := range tt.parts {
			if ctx.looks[who] < least {
				t.Errorf("%s looks %d times, want %d", who, ctx.looks[who], least)
			}
			for _, after := range []int{0, ctx.looks[who] / 2} {
				ended := &looking{Context: context.Background(), looks: map[string]int{}, who: who, after: after}
				if _, err := Analyze(ended, in); err != context.Canceled {
					t.Errorf("cancelled where %s has looked %d times: error %v", who, after, err)
				}
				// What comes after it looks once or twice, and is done.
				if more := ended.looks[who] - after; more > 3 {
					t.Errorf("%s looks %d times more after it was cancelled", who, more)
				}
			}
		}
	}
}

// TestCompleteCancelled holds that the look for what goes wrong when a program runs is ended
// as soon as nobody waits for it, wherever that is, and that another one begins anew.
func TestCompleteCancelled(t *testing.T) {
	n := reftest.Size(1000, 5000, 5000)
	var b strings.Builder
	b.WriteString("\t.syntax unified\n\t.thumb\n")
	for i := range n {
		fmt.Fprintf(&b, "track%d:\tcmp r0, #%d\n\tbeq track%d\n\tadds r0, #1\n", i, i%250, max(i-3, 0))
	}
	b.WriteString("\tb .\nlamp:\tbl delay\n\tbx lr\ndelay:\tbx lr\n")
	in := &Input{Path: "box.s", File: syntax.Parse(b.String()), Set: &Settings{CPU: "cortex-m0"}}
	analysed := func() *Result {
		t.Helper()
		r, err := Analyze(context.Background(), in)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	whole := &looking{Context: context.Background(), looks: map[string]int{}}
	r := analysed()
	if err := r.Complete(whole); err != nil || len(r.Diagnostics()) == len(r.Early()) {
		t.Fatalf("%v, and nothing is found", err)
	}
	want := fmt.Sprint(r.Diagnostics())
	t.Log(whole.looks)
	if least := n / 100; whole.looks["check"] < least {
		t.Errorf("it looks %d times, want %d", whole.looks["check"], least)
	}
	for _, after := range []int{0, whole.looks["check"] / 3, whole.looks["check"] / 2} {
		ended := &looking{Context: context.Background(), looks: map[string]int{}, who: "check", after: after}
		r := analysed()
		if err := r.Complete(ended); err != context.Canceled {
			t.Errorf("after %d looks: %v", after, err)
		}
		if got := fmt.Sprint(r.Diagnostics()); got != want {
			t.Errorf("after %d looks: other findings than without", after)
		}
	}
}
