package analysis

import (
	"math/rand"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// TestTargetDirectives compares the lines .arch, .cpu, .fpu and
// .arch_extension with the assembler: which it refuses, and what the lines
// together come to, as instructions show that the table has.
func TestTargetDirectives(t *testing.T) {
	t.Parallel()
	reftest.Require(t, "arm-none-eabi-as")
	rnd := rand.New(rand.NewSource(3))
	var ext []string
	for _, list := range [][]string{isa.ArchNames(), isa.CPUNames()} {
		for _, n := range list {
			if a, ok := isa.Arch(n); ok {
				ext = append(ext, a.Ext()...)
			}
		}
	}
	slices.Sort(ext)
	ext = slices.Compact(ext)
	pick := func(l []string) string { return l[rnd.Intn(len(l))] }
	probes := []struct {
		line string
		need isa.Features
	}{
		{"bkpt #0", isa.FeatV5T}, {"svc #0", isa.FeatSVC}, {"rev r0, r1", isa.FeatV6}, {"sadd8 r0, r1, r2", isa.FeatDSP},
		{"sdiv r0, r1, r2", isa.FeatDivThumb}, {"lda r0, [r1]", isa.FeatLDA}, {"crc32b r0, r1, r2", isa.FeatCRC}, {"hvc #0", isa.FeatVirt},
		{"vadd.f32 s0, s1, s2", isa.FeatVFP | isa.FeatT32}, {"vadd.f64 d0, d1, d2", isa.FeatVFPD | isa.FeatT32},
		{"vldr d16, [r0]", isa.FeatD32 | isa.FeatT32}, {"vfma.f32 s0, s1, s2", isa.FeatFMA | isa.FeatT32},
		{"vadd.i32 d0, d1, d2", isa.FeatNEON | isa.FeatT32}, {"aese.8 q0, q1", isa.FeatCrypto | isa.FeatT32},
		{"vselge.f32 s0, s1, s2", isa.FeatFPv8 | isa.FeatT32},
	}
	proof := reftest.Begin(t)
	cases, refused := reftest.Count(25, 400, 4000), 0
	for i := range cases {
		set := &Settings{Syntax: "unified", StartMode: "arm"}
		var flags []string
		switch rnd.Intn(3) {
		case 0:
			set.CPU = pick([]string{"cortex-m4", "cortex-a8", "cortex-a53", "arm7tdmi", "cortex-m33"})
			flags = append(flags, "-mcpu="+set.CPU)
		default:
			set.Arch = pick([]string{"armv7-a", "armv8-a", "armv7e-m", "armv6-m", "armv5te", "armv7-a+simd", "armv8-m.main+fp"})
			flags = append(flags, "-march="+set.Arch)
		}
		if rnd.Intn(3) == 0 {
			set.FPU = pick(isa.FPUNames())
			flags = append(flags, "-mfpu="+set.FPU)
		}
		var lines []string
		for range 1 + rnd.Intn(4) {
			switch rnd.Intn(8) {
			case 0:
				lines = append(lines, "\t.arch "+pick(isa.ArchNames()))
			case 1:
				lines = append(lines, "\t.cpu "+pick(isa.CPUNames()))
			case 2:
				lines = append(lines, "\t.fpu "+pick(isa.FPUNames()))
			case 3:
				lines = append(lines, pick([]string{"\t.arch armv7-a+fp", "\t.cpu Cortex-M0", "\t.fpu NEON", "\t.arch_extension fpp", "\t.arch_extension", "\t.arch_extension FP", "\t.arch armv9", "\t.fpu", "\t.cpu all"}))
			default:
				lines = append(lines, "\t.arch_extension "+pick(ext))
			}
		}
		lines = append(lines, "\t.thumb", "\tnop")
		for _, p := range probes {
			lines = append(lines, p.line)
		}
		text := strings.Join(lines, "\n") + "\n"
		r := analyze(t, set, text)
		bad := map[int]bool{}
		for _, d := range r.Each() {
			if d.Severity == finding.Error {
				bad[strings.Count(text[:d.Span.Start], "\n")] = true
			}
		}
		have := r.prog.Environments[r.prog.Items[len(r.prog.Items)-1].Environment].Have
		f := reftest.AssembleFile(t, reftest.Options{Unified: true, Flags: flags}, text)
		first := len(lines) - len(probes)
		for n, line := range lines {
			theirs := slices.Contains(f.ErrorLines, n+1)
			ours := bad[n]
			if !strings.HasPrefix(line, "\t.") && n < first {
				continue
			}
			if n >= first {
				ours = !have.Has(isa.FeatT16 | probes[n-first].need)
				if !have.Has(isa.FeatT16) {
					continue
				}
			} else if theirs {
				refused++
			}
			if ours != theirs {
				t.Errorf("%v, program %d, line %q refused: by us %v, by the assembler %v\n%s", flags, i, line, ours, theirs, strings.Join(lines[:first], "\n"))
			}
		}
	}
	proof.Counted("target directives: %d programs, %d lines refused", cases, refused)
}
