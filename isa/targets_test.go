package isa_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// probes holds, for each feature, a line that assembles only where the feature
// is. Those of A32 code come last, after a line .arm.
var probes = []struct {
	feature isa.Features
	line    string
}{
	{isa.FeatT16, ".thumb"},
	{isa.FeatV5T, "bkpt #0"},
	{isa.FeatV6, "rev r0, r1"},
	{isa.FeatHint, "yield"},
	{isa.FeatSetend, "setend le"},
	{isa.FeatM, "mrs r0, primask"},
	{isa.FeatBar, "dmb"},
	{isa.FeatCBZ, "cbz r0, .+8"},
	{isa.FeatT32, "add.w r0, r1, r2, lsl #1"},
	{isa.FeatMovW, "movw r0, #1"},
	{isa.FeatHlt, "hlt #0"},
	{isa.FeatSec, "bxns r0"},
	{isa.FeatSVC, "svc #0"},
	{isa.FeatDSP, "sadd8 r0, r1, r2"},
	{isa.FeatDivThumb, "sdiv r0, r1, r2"},
	{isa.FeatExclusiveThumb, "ldrexb r0, [r1]"},
	{isa.FeatMP, "pldw [r0]"},
	{isa.FeatVirt, "hvc #0"},
	{isa.FeatLDA, "lda r0, [r1]"},
	{isa.FeatV8, "sevl"},
	{isa.FeatCRC, "crc32b r0, r1, r2"},
	{isa.FeatPAN, "setpan #1"},
	{isa.FeatRAS, "esb"},
	{isa.FeatSB, "sb"},
	{isa.FeatV81M, "csel r0, r1, r2, eq"},
	{isa.FeatA32, ".arm"},
	{isa.FeatV5TE, "smulbb r0, r1, r2"},
	{isa.FeatV5, "clz r0, r1"},
	{isa.FeatV6K, "yield"},
	{isa.FeatDivA32, "sdiv r0, r1, r2"},
	{isa.FeatSMC, "smc #0"},
}

// fpProbes are those that the reference assembler takes in T32 and A32 code
// alike: they are in both.
var fpProbes = []struct {
	feature isa.Features
	line    string
}{
	{isa.FeatVFP, "vadd.f32 s0, s1, s2"},
	{isa.FeatVFPD, "vadd.f64 d0, d1, d2"},
	{isa.FeatVFP2, "vmov s0, s1, r0, r1"},
	{isa.FeatVFP3, "vmov.f32 s0, #1.0"},
	{isa.FeatD32, "vldr d16, [r0]"},
	{isa.FeatHalf, "vcvtb.f32.f16 s0, s1"},
	{isa.FeatFMA, "vfma.f32 s0, s1, s2"},
	{isa.FeatFPv8, "vselge.f32 s0, s1, s2"},
	{isa.FeatNEON, "vadd.i32 d0, d1, d2"},
	{isa.FeatNEONFMA, "vfma.f32 d0, d1, d2"},
	{isa.FeatNEONv8, "vrintn.f32 d0, d1"},
	{isa.FeatCrypto, "aese.8 q0, q1"},
	{isa.FeatNEON81, "vqrdmlah.s16 d0, d1, d2"}, // with a warning where it is not
	{isa.FeatFP16, "vadd.f16 s0, s1, s2"},
	{isa.FeatDot, "vudot.u8 d0, d1, d2"},
	{isa.FeatFML, "vfmal.f16 d0, s0, s1"},
	{isa.FeatCplx, "vcmla.f32 d0, d1, d2, #0"},
	{isa.FeatBF16, "vdot.bf16 d0, d1, d2"},
	{isa.FeatI8MM, "vusdot.s8 d0, d1, d2"},
	{isa.FeatV8R, "dfb"},
}

// beside are the features that show only where a floating-point unit is
// beside them.
const beside = isa.FeatFP16 | isa.FeatDot | isa.FeatFML | isa.FeatCplx | isa.FeatBF16 | isa.FeatI8MM

var featureNames = map[isa.Features]string{
	isa.FeatT16: "T16", isa.FeatV5T: "V5T", isa.FeatV6: "V6", isa.FeatHint: "Hint", isa.FeatSetend: "Setend", isa.FeatM: "M", isa.FeatBar: "Bar",
	isa.FeatCBZ: "CBZ", isa.FeatT32: "T32", isa.FeatMovW: "MovW", isa.FeatHlt: "Hlt", isa.FeatSec: "Sec", isa.FeatSVC: "SVC", isa.FeatA32: "A32",
	isa.FeatV5TE: "V5TE", isa.FeatV6K: "V6K", isa.FeatWideB: "WideB", isa.FeatV5: "V5",
	isa.FeatDSP: "DSP", isa.FeatDivThumb: "DivT", isa.FeatDivA32: "DivA", isa.FeatExclusiveThumb: "ExT", isa.FeatMP: "MP", isa.FeatSMC: "SMC", isa.FeatVirt: "Virt",
	isa.FeatLDA: "LDA", isa.FeatV8: "V8", isa.FeatCRC: "CRC", isa.FeatPAN: "PAN", isa.FeatRAS: "RAS", isa.FeatSB: "SB", isa.FeatV81M: "V81M",
	isa.FeatVFP: "VFP", isa.FeatVFPD: "VFPD", isa.FeatVFP2: "VFP2", isa.FeatVFP3: "VFP3", isa.FeatD32: "D32", isa.FeatHalf: "Half", isa.FeatFMA: "FMA",
	isa.FeatFPv8: "FPv8", isa.FeatNEON: "NEON", isa.FeatNEONFMA: "NEONFMA", isa.FeatNEONv8: "NEONv8", isa.FeatCrypto: "Crypto", isa.FeatNEON81: "NEON81",
	isa.FeatFP16: "FP16", isa.FeatDot: "Dot", isa.FeatFML: "FML", isa.FeatCplx: "Cplx", isa.FeatBF16: "BF16", isa.FeatI8MM: "I8MM", isa.FeatV8R: "V8R",
}

// probe asks the assembler for the features of a target, chosen by flags; lines
// before choose more. known is false when it does not know the target.
func probe(t *testing.T, before string, flags ...string) (have isa.Features, known bool) {
	t.Helper()
	have, known = probeOnce(t, before, flags, ^isa.Features(0))
	if known && have.Has(isa.FeatT32) {
		// A unit in the flags is what shows them.
		with, _ := probeOnce(t, before, append(slices.Clone(flags), "-mfpu=crypto-neon-fp-armv8.1"), beside)
		have |= with & beside
	}
	return have, known
}

// probeOnce does so with these flags. Of features that are not wanted it may say less.
func probeOnce(t *testing.T, before string, flags []string, wanted isa.Features) (have isa.Features, known bool) {
	t.Helper()
	var features []isa.Features // of the lines
	text := before
	for range strings.Count(before, "\n") {
		features = append(features, 0)
	}
	add := func(f isa.Features, line string) {
		features, text = append(features, f), text+line+"\n"
	}
	for _, p := range probes {
		if p.feature == isa.FeatA32 {
			for _, p := range fpProbes {
				add(p.feature, p.line)
			}
		}
		add(p.feature, p.line)
	}
	for _, p := range fpProbes {
		add(p.feature, p.line)
	}
	// The prologue chooses A32 code, which the M profile refuses: a line that
	// is not looked at.
	opt := reftest.Options{Unified: true, Flags: flags}
	f := reftest.AssembleFile(t, opt, text)
	if len(f.ErrorLines) == 0 && !f.OK {
		return 0, false
	}
	state := isa.FeatT16
	for i, p := range features {
		bad := slices.Contains(f.ErrorLines, i+1)
		if p == 0 {
			if bad {
				return 0, false
			}
			continue
		}
		if p == isa.FeatA32 {
			state = isa.FeatA32
		}
		bad = bad || p == isa.FeatNEON81 && slices.Contains(f.WarnLines, i+1)
		// A state that the target lacks leaves the other one on.
		if !bad && (p == state || have.Has(state)) {
			have |= p
		}
	}
	if have.Has(isa.FeatT16) && wanted.Has(isa.FeatWideB) {
		// How far BL reaches shows only in a program that is right elsewhere.
		opt.Thumb = true
		if reftest.AssembleFile(t, opt, before+"bl .+5000000\n").OK {
			have |= isa.FeatWideB
		}
	}
	return have, true
}

// targetDisagreements lists where the features of a target differ from what
// the assembler takes, and why. A pattern is matched against lines such as
// "armv6-m lacks Hlt", in which the target's features are ours.
var targetDisagreements = []disagreement{
	{` lacks Hlt$`, `HLT is of ARMv8-A (DDI 0487, "HLT"); the assembler takes it on all cores with A32 code`},
	{`^(armv6s?-m|armv7e?-?m|armv7|armv8-m\.(base|main)|armv8\.1-m\.main|cortex-m\w+)(\+\S+)? lacks Setend$`, `no SETEND on M profile, and none in what all profiles of ARMv7 share (DDI 0403 and DDI 0419 do not have it)`},
	{`^(armv6(k|z|kz|zk)|arm1176jzf?-s|mpcore|mpcorenovfp)(\+\S+)? lacks Hint$`, `the hints have T16 encodings from ARMv6T2 on (DDI 0406, "NOP", encoding T1)`},
	{`^(armv6s?-m|armv8-m\.base|cortex-m(0|0plus|1|23))(\+\S+)? has WideB$`, `BL reaches 16 MB on ARMv6-M and on the baseline of ARMv8-M (DDI 0419 and DDI 0553, "BL")`},
	{` with (vfp|vfp9|vfp10|vfp10-r0|vfpv2|vfpxd|softvfp\+vfp|arm1020[et]|arm1136jf-?s) lacks Half$`, `VFPv1 and VFPv2 have no half precision (DDI 0100, part C; DDI 0406, "VCVTB, VCVTT"); the assembler takes it from every unit`},
	{`^armv(5|6)\w*\+fp(\+\S+)? lacks Half$`, `the same of VFPv2 as an extension`},
	{`^all\+(iwmmxt|iwmmxt2|xscale) has WideB$`, `no manual has "all"; with an extension of one old core the assembler takes its reach of BL for that core's`},
}

// TestTargets compares the names of architectures and cores, their features
// and their extensions with the assembler. By default it tries a part of the
// extensions; with NARROWGAUGE_THOROUGH=1 all of them.
func TestTargets(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	sample := reftest.Size(100, 5, 1)
	var cases []string
	compare := func(name string, ours, theirs isa.Features) {
		for _, f := range slices.Sorted(func(yield func(isa.Features) bool) {
			for f := range featureNames {
				if !yield(f) {
					return
				}
			}
		}) {
			switch {
			case f == isa.FeatV5 && !ours.Has(isa.FeatA32):
				// Nothing but A32 code shows it.
			case ours&f != 0 && theirs&f == 0:
				cases = append(cases, name+" has "+featureNames[f])
			case ours&f == 0 && theirs&f != 0:
				cases = append(cases, name+" lacks "+featureNames[f])
			}
		}
	}
	var union []string
	kinds := []struct {
		flag   string
		names  []string
		find   func(string) (isa.Target, bool)
		choose func(*isa.Selection, string) bool
	}{{"-march=", isa.ArchNames(), isa.Arch, (*isa.Selection).SelectArch}, {"-mcpu=", isa.CPUNames(), isa.CPU, (*isa.Selection).SelectCPU}}
	for _, k := range kinds {
		for _, n := range k.names {
			target, ok := k.find(n)
			if !ok {
				t.Errorf("%s is listed and not found", n)
			}
			union = append(union, target.Ext()...)
		}
	}
	slices.Sort(union)
	union = slices.Compact(union)
	targets, extensions := 0, 0
	seen := map[string]bool{}
	for _, k := range kinds {
		for _, n := range reftest.Sample(append(k.names, "nonesuch"), 6) {
			target, ours := k.find(n)
			have, theirs := probe(t, "", k.flag+n)
			targets++
			if ours != theirs {
				t.Errorf("%s%s: known to us %v, to the assembler %v", k.flag, n, ours, theirs)
			}
			if !ours || !theirs {
				continue
			}
			compare(n, target.Have, have)
			key := fmt.Sprint(target.Have, target.Ext())
			if seen[key] {
				continue
			}
			seen[key] = true
			for i, x := range union {
				if (i+targets)%sample != 0 && x != "os" && x != "xscale" {
					continue
				}
				extensions++
				have, theirs := probe(t, "", k.flag+n+"+"+x)
				if ours := slices.Contains(target.Ext(), x); ours != theirs {
					t.Errorf("%s%s+%s: known to us %v, to the assembler %v", k.flag, n, x, ours, theirs)
				} else if ours {
					var s isa.Selection
					k.choose(&s, n)
					s.Extend(x)
					compare(n+"+"+x, s.Have(), have)
					// The same after what the extension gave or took.
					if other, is := strings.CutPrefix(x, "no"); is && n != "all" && slices.Contains(target.Ext(), other) {
						s.Extend(other)
						s.Extend(x)
						have, _ := probe(t, ".arch_extension "+other+"\n.arch_extension "+x+"\n", k.flag+n)
						compare(n+"+"+other+"+"+x, s.Have(), have)
					}
				}
			}
		}
	}
	for _, n := range reftest.Sample(append(isa.FPUNames(), "nonesuch"), 6) {
		targets++
		unit, ours := isa.FPU(n)
		for _, base := range []string{"armv8-a", "armv5te", "armv7-a"} {
			target, _ := isa.Arch(base)
			have, theirs := probeOnce(t, "", []string{"-march=" + base, "-mfpu=" + n}, ^isa.Features(0))
			if ours != theirs {
				t.Errorf("-mfpu=%s: known to us %v, to the assembler %v", n, ours, theirs)
			} else if ours {
				compare(base+" with "+n, target.Have|unit.Have, have)
			}
		}
	}
	judge(t, targetDisagreements, cases)
	proof.Counted("targets: %d names, %d extensions of them, %d known disagreements", targets, extensions, len(cases))
}

// TestTargetNames checks what the lists rest on.
func TestTargetNames(t *testing.T) {
	for _, l := range [][]string{isa.ArchNames(), isa.CPUNames(), isa.FPUNames()} {
		if !slices.IsSorted(l) || len(slices.Compact(slices.Clone(l))) != len(l) {
			t.Errorf("not sorted, or twice: %v", l)
		}
		for _, n := range l {
			if n != strings.ToLower(n) {
				t.Errorf("%s is not in lower case", n)
			}
		}
	}
}
