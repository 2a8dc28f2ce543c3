package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"narrowgauge/analysis"
)

// weighs is a result for tests: which one it is, and what it weighs.
type weighs struct{ i, bytes int }

func (w weighs) weight() int { return w.bytes }

// TestInOrder holds that results come in order, whichever is done first, and that no more
// wait than there is room for.
func TestInOrder(t *testing.T) {
	const n = 500
	workers := runtime.GOMAXPROCS(0)
	for _, tt := range []struct {
		name         string
		bytes, bound int
	}{
		{"light", 10, workers * maxAhead},
		{"heavy", maxWaitingBytes, workers + 1}, // one that waits is enough
	} {
		t.Run(tt.name, func(t *testing.T) {
			var begun, taken, most atomic.Int64
			first := make(chan bool)
			go func() { // the first one is not ready until no other can begin
				for last := int64(-1); last != begun.Load() || last < 1; {
					last = begun.Load()
					for range 1000 {
						runtime.Gosched()
					}
				}
				close(first)
			}()
			var got []int
			err := inOrder(make([]source, n), nil, func(i int) weighs {
				most.Store(max(most.Load(), begun.Add(1)-taken.Load()))
				if i == 0 {
					<-first
				}
				return weighs{i, tt.bytes}
			}, func(w weighs) error {
				taken.Add(1)
				got = append(got, w.i)
				return nil
			})
			if err != nil || len(got) != n || !slices.IsSorted(got) {
				t.Errorf("%v, %d results, %v", err, len(got), got)
			}
			if m := int(most.Load()); m > tt.bound+1 {
				t.Errorf("%d are under way or wait, more than %d", m, tt.bound)
			}
		})
	}
	broken := errors.New("no room")
	var begun atomic.Int64
	if err := inOrder(make([]source, n), nil, func(i int) weighs { begun.Add(1); return weighs{i, 1} }, func(w weighs) error {
		if w.i == 3 {
			return broken
		}
		return nil
	}); err != broken || begun.Load() > int64(workers*maxAhead+5) {
		t.Errorf("%v, after %d", err, begun.Load())
	}
}

// checkTo checks sources in a folder as the command does, and calls last when the last one
// has been taken.
func checkTo(t *testing.T, out io.Writer, dir string, how listing, most int, last func()) {
	t.Helper()
	w, err := newWorkspace(settingFlags{set: analysis.Settings{Arch: "armv6-m"}}, []string{dir})
	if err != nil {
		t.Fatal(err)
	}
	sources, err := collect([]string{dir}, nil)
	if err != nil {
		t.Fatal(err)
	}
	how.several = true
	all := newTally(w, how, newReport(out, style{}, how, nil))
	defer all.close()
	all.held.most = most
	w.scanAll(sources)
	done := 0
	err = inOrder(sources, nil, func(i int) checked { return w.check(context.Background(), sources[i], how, style{}) }, func(r checked) error {
		if err := all.take(r); err != nil {
			return err
		}
		if done++; done == len(sources) {
			last()
		}
		return nil
	})
	if err == nil {
		err = all.rest(context.Background(), sources, style{})
	}
	if err == nil {
		err = all.report.end(all)
	}
	if err = errors.Join(err, all.problems); err != nil {
		t.Fatal(err)
	}
}

// liveAfter checks so many sources, and gives the bytes that are in use more when the last
// has been taken, and those printed.
func liveAfter(t *testing.T, n int, how listing, text func(i int) string) (live int64, printed int) {
	t.Helper()
	dir := t.TempDir()
	for i := range n {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("signal%04d.s", i)), []byte(text(i)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var out counting
	before := inUse()
	checkTo(t, &out, dir, how, 0, func() { live = inUse() - before })
	return live, int(out)
}

// inUse is how many bytes are in use.
func inUse() int64 {
	runtime.GC()
	runtime.GC() // what pools hold goes with the second
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// counting counts the bytes that are written.
type counting int

func (c *counting) Write(b []byte) (int, error) {
	*c += counting(len(b))
	return len(b), nil
}

// signalText is a source with a name that others may use, a use of another one's, and 40
// findings.
func signalText(i int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "\t.syntax unified\n\t.thumb\n\t.global signal%d\nsignal%d:\n\tbl signal%d\n", i, i, i/2)
	for k := range 40 {
		fmt.Fprintf(&b, "\tmovs r0, #%d @ lamp %d of signal %d, which is out of range\n", 300+k, k, i)
	}
	return b.String()
}

// TestManyFiles holds that the memory of a check does not grow with the number of sources:
// what is kept of one are its names that others may use, some hundred bytes each, and nothing
// of its text and its findings.
func TestManyFiles(t *testing.T) {
	const (
		aSource = 2000    // bytes that are kept of a source, at most
		noise   = 2 << 20 // bytes that a number of sources has to do with nothing
	)
	for _, tt := range []struct {
		name        string
		how         listing
		more        string // at the end of each source
		short, many int    // sources, in place of 50
	}{
		{"json", listing{format: "json"}, "", 500, 2000},
		{"held", listing{format: "json"}, "\t.include \"signal0000.s\"\n\t.include name\n", 0, 2000},
		{"text", listing{all: true}, "", 0, 800},
		{"sarif", listing{format: "sarif"}, "", 0, 800},
		{"github", listing{format: "github"}, "", 0, 800},
		{"summary", listing{summary: true}, "", 0, 800},
	} {
		if testing.Short() {
			if tt.many = tt.short; tt.short == 0 {
				continue
			}
		}
		t.Run(tt.name, func(t *testing.T) {
			text := func(i int) string { return signalText(i) + tt.more }
			few, _ := liveAfter(t, 50, tt.how, text)
			more, printed := liveAfter(t, tt.many, tt.how, text)
			t.Logf("%d bytes with 50 sources, %d with %d; %d bytes are printed", few, more, tt.many, printed)
			if bound := max(few, 0) + int64(aSource*tt.many) + noise; more > bound {
				t.Errorf("%d bytes with 50 sources and %d with %d, more than %d", few, more, tt.many, bound)
			}
		})
	}
}

// TestHeld holds that what is held until it is known which sources are parts of others comes
// out as it would have, in the order of the sources, from memory and from a file.
func TestHeld(t *testing.T) {
	dir := t.TempDir()
	const allowed = "\t.byte 1\n\t.word 2 @ narrowgauge: allow data-alignment -- sent byte by byte\n"
	// The second is a part of the last; the third might be one by a line that is not assembled.
	texts := map[string]string{
		"a.s": signalText(1) + allowed,
		"b.s": "\tmovs r0, #LAMP\n\tmovs r0, #300\n",
		"c.s": signalText(3) + allowed,
		"d.s": "\t.syntax unified\n\t.thumb\n\t.equ LAMP, 7\n\t.if 0\n\t.include \"c.s\"\n\t.endif\n\t.include \"b.s\"\n\tmovs r0, #301\n",
	}
	for name, text := range texts {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, how := range []listing{{all: true, hints: true}, {format: "json"}, {format: "sarif"}, {format: "github"}, {summary: true}} {
		var memory, file bytes.Buffer
		checkTo(t, &memory, dir, how, 0, func() {})
		checkTo(t, &file, dir, how, 1, func() {})
		if memory.String() != file.String() {
			t.Errorf("%+v: from memory\n%.2000s\nfrom a file\n%.2000s", how, memory.String(), file.String())
		}
		if how.format != "json" {
			continue
		}
		var list []jsonFinding
		if err := json.Unmarshal(file.Bytes(), &list); err != nil {
			t.Fatal(err)
		}
		var order []string
		lines := map[string]int{}
		for _, f := range list {
			name := filepath.Base(f.File)
			if f.Severity == "error" {
				lines[name]++
			}
			if len(order) == 0 || order[len(order)-1] != name {
				order = append(order, name)
			}
		}
		if want := map[string]int{"a.s": 40, "b.s": 1, "c.s": 40, "d.s": 1}; !maps.Equal(lines, want) {
			t.Errorf("errors: %v, want %v", lines, want)
		}
		if got := strings.Join(order, " "); !strings.HasPrefix(got, "a.s c.s ") {
			t.Errorf("the order is %s", got)
		}
	}
	if left, _ := filepath.Glob(filepath.Join(os.TempDir(), "narrowgauge-*")); len(left) > 0 && runtime.GOOS != "windows" {
		for _, path := range left {
			if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() {
				t.Errorf("%s is left", path)
			}
		}
	}
}
