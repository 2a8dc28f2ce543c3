//go:build unix

package main

import (
	"errors"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime/debug"
	"slices"
	"strconv"
	"syscall"
	"testing"
	"time"

	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
	"narrowgauge/isa/reftest/sources"
)

// maxRatio fails BenchmarkReference above it. A ratio within one run says
// something on any machine; a time does not.
var maxRatio = flag.Float64("maxratio", 0, "fail BenchmarkReference above this `ratio`; 0 never fails")

// BenchmarkReference checks a file of 100,000 lines and lets the reference
// assembler assemble it, in turns, each a process of its own. It reports the
// middle of the times of each in milliseconds and their ratio, and that of the processors.
func BenchmarkReference(b *testing.B) { againstAssembler(b, firmware.Text(20, 100_000)) }

// BenchmarkReferenceA32 is BenchmarkReference for A32 code.
func BenchmarkReferenceA32(b *testing.B) { againstAssembler(b, firmware.A32(20, 100_000)) }

// BenchmarkReferenceT32 is BenchmarkReference for T32 code, whose widths depend on
// distances.
func BenchmarkReferenceT32(b *testing.B) { againstAssembler(b, firmware.T32(20, 100_000)) }

const assembler = "arm-none-eabi-as"

func againstAssembler(b *testing.B, text string) {
	b.Helper()
	reftest.Require(b, assembler)
	program := built(b)
	dir := b.TempDir()
	source := filepath.Join(dir, "firmware.s")
	if err := os.WriteFile(source, []byte(text), 0o644); err != nil {
		b.Fatal(err)
	}
	var ours, theirs spending
	for b.Loop() {
		theirs.run(b, assembler, "-march=armv4t", "-o", filepath.Join(dir, "firmware.o"), source)
		ours.run(b, program, "check", source)
	}
	ratio := reportSpent(b, &ours, &theirs, middle)
	if *maxRatio > 0 && ratio > *maxRatio {
		b.Errorf("check takes %.2f times as long as the assembler; the bar is %.2f", ratio, *maxRatio)
	}
}

// BenchmarkRealSources does so with each source of a package that the assembler takes for
// some target, preprocessed for that, a process each: most of it is what it takes to start.
// It reports the ratio of the sums.
func BenchmarkRealSources(b *testing.B) {
	reftest.Require(b, assembler)
	p := sources.Chosen(b)[0]
	var units []*sources.Unit
	for _, u := range p.Units(b, p.Unpack(b)) {
		if u.Config.Name == "armv7-a" || u.Config.Name == "armv6-m" {
			units = append(units, u)
		}
	}
	sources.Expand(b, units)
	program := built(b)
	dir := b.TempDir()
	object := filepath.Join(dir, "unit.o")
	var list [][2][]string
	for i, u := range units {
		source := filepath.Join(dir, strconv.Itoa(i), "unit.s") // alone in its folder
		if err := errors.Join(os.Mkdir(filepath.Dir(source), 0o755), os.WriteFile(source, []byte(u.Text), 0o644)); err != nil {
			b.Fatal(err)
		}
		flags := append(u.Config.Flags(), "-o", object, source)
		if exec.Command(assembler, flags...).Run() != nil {
			continue
		}
		ours := []string{"check", "--arch", u.Config.Arch, source}
		if u.Config.FPU != "" {
			ours = append(ours, "--fpu", u.Config.FPU)
		}
		list = append(list, [2][]string{flags, ours})
	}
	var ours, theirs spending
	for b.Loop() {
		for _, x := range list {
			theirs.run(b, assembler, x[0]...)
			ours.run(b, program, x[1]...)
		}
	}
	reportSpent(b, &ours, &theirs, sum)
	b.ReportMetric(float64(len(list)), "sources")
}

// BenchmarkMillion checks a source of 100,000 lines and one of 1,000,000. It reports how many
// times as long the second takes, how many times the memory at its peak that is, and the bytes
// for each further line.
func BenchmarkMillion(b *testing.B) {
	program := built(b)
	var spent [2]spending
	var names [2]string
	for i, lines := range []int{100_000, 1_000_000} {
		names[i] = filepath.Join(b.TempDir(), "firmware.s")
		if err := os.WriteFile(names[i], []byte(short.ReplaceAllString(firmware.Text(20, lines), "")), 0o644); err != nil {
			b.Fatal(err)
		}
	}
	// The peak of a process counts that of the one which has started it (getrusage of Linux).
	debug.FreeOSMemory()
	_ = os.WriteFile("/proc/self/clear_refs", []byte("5"), 0)
	for b.Loop() {
		for i, name := range names {
			spent[i].run(b, program, "check", name)
		}
	}
	b.ReportMetric(middle(spent[1].times)/middle(spent[0].times), "times-as-long")
	b.ReportMetric(float64(spent[1].peak)/float64(spent[0].peak), "times-the-memory")
	b.ReportMetric(float64(spent[1].peak-spent[0].peak)/900_000, "bytes/line")
	b.ReportMetric(0, "ns/op")
}

// short takes from lines what makes a source longer than can be read: a million with remarks
// has 36 MB.
var short = regexp.MustCompile(`(?m)^        |[ \t]*@.*$`)

// spending is what processes take: times, and bytes of memory at most.
type spending struct {
	times []time.Duration
	cpu   []time.Duration
	peak  int64
}

func (s *spending) run(b *testing.B, name string, args ...string) {
	b.Helper()
	cmd := exec.Command(name, args...)
	start := time.Now()
	out, err := cmd.CombinedOutput()
	s.times = append(s.times, time.Since(start))
	if err != nil {
		b.Fatalf("%s %q: %v\n%.500s", name, args, err, out)
	}
	s.cpu = append(s.cpu, cmd.ProcessState.UserTime()+cmd.ProcessState.SystemTime())
	if use, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
		s.peak = max(s.peak, use.Maxrss<<10)
	}
}

// middle is the middle of times, in milliseconds.
func middle(times []time.Duration) float64 {
	times = slices.Clone(times)
	slices.Sort(times)
	return float64(times[len(times)/2].Microseconds()) / 1000
}

// sum is that of times, in milliseconds.
func sum(times []time.Duration) (all float64) {
	for _, t := range times {
		all += float64(t.Microseconds()) / 1000
	}
	return all
}

// reportSpent compares what both have taken, of the times of each their sum or the middle.
func reportSpent(b *testing.B, ours, theirs *spending, of func([]time.Duration) float64) float64 {
	ratio := of(ours.times) / of(theirs.times)
	b.ReportMetric(of(ours.times), "check-ms")
	b.ReportMetric(of(theirs.times), "assembler-ms")
	b.ReportMetric(ratio, "ratio")
	b.ReportMetric(of(ours.cpu)/of(theirs.cpu), "cpu-ratio")
	b.ReportMetric(0, "ns/op")
	return ratio
}
