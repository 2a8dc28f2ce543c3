package project

import (
	"fmt"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
)

// largeDatabase has so many entries; one of each so many is of an assembly source.
func largeDatabase(t *testing.T, path string, entries, each int) int {
	var b strings.Builder
	for i := range entries {
		file := fmt.Sprintf("signals%d.c", i)
		if i%each == 0 {
			file = fmt.Sprintf("signals%d.s", i)
		}
		fmt.Fprintf(&b, "%s{\"directory\":\"/box\",\"file\":%q,\"command\":\"gcc -mcpu=cortex-m0 -I/box/inc -I/box/lib/signals/inc -DLAMPS=%d -O2 -Wall -ffunction-sections -fdata-sections -c %s\"}", map[bool]string{true: "[", false: ",\n"}[i == 0], file, i, file)
	}
	write(t, path, b.String()+"]\n")
	return b.Len()
}

func live() int {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int(m.HeapAlloc)
}

// TestLargeDatabase holds that a database is not kept as a whole: of the entries of other
// languages nothing stays.
func TestLargeDatabase(t *testing.T) {
	proof := reftest.Begin(t)
	n := reftest.Size(20_000, 40_000, 400_000)
	for _, tt := range []struct{ each, percent int }{{n, 5}, {50, 10}, {1, 300}} {
		dir := t.TempDir()
		path := filepath.Join(dir, CommandsName)
		size := largeDatabase(t, path, n, tt.each)
		var commands Commands
		before := live()
		cmd := commands.Find(filepath.Join("/box", "signals0.s"), path, NewBounds(dir, "/box"))
		kept := live() - before
		if cmd == nil || !cmd.Named {
			t.Fatalf("the first entry is not found: %+v", cmd)
		}
		if kept > size*tt.percent/100+200<<10 {
			t.Errorf("one of %d entries is of assembly: of %d kB of database stay %d", tt.each, size>>10, kept>>10)
		}
		t.Logf("one of %d entries is of assembly: of %d kB of database stay %d", tt.each, size>>10, kept>>10)
		runtime.KeepAlive(&commands)
	}
	proof.Counted("databases: %d entries", n)
}

// TestByteOrderMark reads what editors on Windows write: a mark in front, CR before LF.
func TestByteOrderMark(t *testing.T) {
	dir := t.TempDir()
	source := filepath.Join(dir, "a.s")
	write(t, source, "\tnop\r\n")
	write(t, filepath.Join(dir, FileName), byteOrderMark+"{\r\n\t\"syntax\": \"unified\"\r\n}\r\n")
	write(t, filepath.Join(dir, CommandsName), byteOrderMark+"[\r\n{\"directory\":"+fmt.Sprintf("%q", dir)+",\"file\":\"a.s\",\"command\":\"as -mcpu=cortex-m0 a.s\"}\r\n]\r\n")
	var finder Finder
	var commands Commands
	within := NewBounds(dir)
	p := finder.Find(dir, within)
	if p == nil || p.Problem != "" {
		t.Fatalf("project file: %+v", p)
	}
	set, cmd := commands.Resolve(p.Settings, source, within)
	if set.Syntax != "unified" || set.CPU != "cortex-m0" || cmd == nil || !cmd.Named {
		t.Errorf("settings %+v, command %+v", set, cmd)
	}
}
