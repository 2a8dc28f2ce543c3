package isa_test

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// probes holds, for each feature, a line that assembles only where the feature
// is. Those of A32 code come last, behind a line .arm.
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
	{isa.FeatA32, ".arm"},
	{isa.FeatV5TE, "smulbb r0, r1, r2"},
	{isa.FeatV6K, "yield"},
}

var featureNames = map[isa.Features]string{
	isa.FeatT16: "T16", isa.FeatV5T: "V5T", isa.FeatV6: "V6", isa.FeatHint: "Hint", isa.FeatSetend: "Setend", isa.FeatM: "M", isa.FeatBar: "Bar",
	isa.FeatCBZ: "CBZ", isa.FeatT32: "T32", isa.FeatMovW: "MovW", isa.FeatHlt: "Hlt", isa.FeatSec: "Sec", isa.FeatSVC: "SVC", isa.FeatA32: "A32",
	isa.FeatV5TE: "V5TE", isa.FeatV6K: "V6K", isa.FeatWideB: "WideB",
}

// probe asks the assembler for the features of a target, chosen by a flag.
// known is false when it does not know the target.
func probe(t *testing.T, flag string) (have isa.Features, known bool) {
	t.Helper()
	text := ""
	for _, p := range probes {
		text += p.line + "\n"
	}
	// The prologue chooses A32 code, which the M profile refuses: a line that
	// is not looked at.
	opt := reftest.Options{Unified: true, Flags: []string{flag}}
	f := reftest.AssembleFile(t, opt, text)
	if len(f.ErrorLines) == 0 && !f.OK {
		return 0, false
	}
	bad := func(i int) bool { return slices.Contains(f.ErrorLines, i+1) }
	state := isa.FeatT16
	for i, p := range probes {
		if p.feature == isa.FeatA32 {
			state = isa.FeatA32
		}
		// A state that the target lacks leaves the other one on.
		if !bad(i) && (p.feature == state || have.Has(state)) {
			have |= p.feature
		}
	}
	if have.Has(isa.FeatT16) {
		// How far BL reaches shows only in a program that is right elsewhere.
		opt.Thumb = true
		if reftest.AssembleFile(t, opt, "bl .+5000000\n").OK {
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
	{`^all\+(iwmmxt|iwmmxt2|xscale) has WideB$`, `no manual has "all"; with an extension of one old core the assembler takes its reach of BL for that core's`},
}

// TestTargets compares the names of architectures and cores, their features
// and their extensions with the assembler. By default it tries a part of the
// extensions; with NARROWGAUGE_THOROUGH=1 all of them.
func TestTargets(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	sample := 5
	if os.Getenv("NARROWGAUGE_THOROUGH") != "" {
		sample = 1
	}
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
			case ours&f != 0 && theirs&f == 0:
				cases = append(cases, name+" has "+featureNames[f])
			case ours&f == 0 && theirs&f != 0:
				cases = append(cases, name+" lacks "+featureNames[f])
			}
		}
	}
	var union []string
	kinds := []struct {
		flag  string
		names []string
		find  func(string) (isa.Target, bool)
	}{{"-march=", isa.ArchNames(), isa.Arch}, {"-mcpu=", isa.CPUNames(), isa.CPU}}
	for _, k := range kinds {
		for _, n := range k.names {
			target, ok := k.find(n)
			if !ok {
				t.Errorf("%s is listed and not found", n)
			}
			union = append(union, target.Ext...)
		}
	}
	slices.Sort(union)
	union = slices.Compact(union)
	targets, extensions := 0, 0
	seen := map[string]bool{}
	for _, k := range kinds {
		for _, n := range append(k.names, "nonesuch") {
			target, ours := k.find(n)
			have, theirs := probe(t, k.flag+n)
			targets++
			if ours != theirs {
				t.Errorf("%s%s: known to us %v, to the assembler %v", k.flag, n, ours, theirs)
			}
			if !ours || !theirs {
				continue
			}
			compare(n, target.Have, have)
			key := fmt.Sprint(target.Have, target.Ext)
			if seen[key] {
				continue
			}
			seen[key] = true
			for i, x := range union {
				if (i+targets)%sample != 0 && x != "os" && x != "xscale" {
					continue
				}
				extensions++
				have, theirs := probe(t, k.flag+n+"+"+x)
				if ours := slices.Contains(target.Ext, x); ours != theirs {
					t.Errorf("%s%s+%s: known to us %v, to the assembler %v", k.flag, n, x, ours, theirs)
				} else if ours {
					compare(n+"+"+x, isa.Extend(target.Have, x), have)
				}
			}
		}
	}
	for _, n := range append(isa.FPUNames(), "nonesuch") {
		targets++
		_, ours := isa.FPU(n)
		if theirs := reftest.AssembleFile(t, reftest.Options{Unified: true, Flags: []string{"-mfpu=" + n}}, "").OK; ours != theirs {
			t.Errorf("-mfpu=%s: known to us %v, to the assembler %v", n, ours, theirs)
		}
	}
	judge(t, targetDisagreements, cases)
	fmt.Printf("targets: %d names, %d extensions of them, %d known disagreements\n", targets, extensions, len(cases))
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
