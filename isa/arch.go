package isa

import (
	"sort"
	"strings"
)

// Features is the set of architecture features that a target has. An
// instruction row names the features it needs.
type Features uint64

// The features that decide about T16 encodings and about the 32-bit ones in
// T16 code.
const (
	FeatA32            Features = 1 << iota // has the A32 instruction set
	FeatT16                                 // ARMv4T: has T16 code at all
	FeatV5T                                 // ARMv5T: BLX, BKPT
	FeatV5TE                                // ARMv5TE: DSP multiply, LDRD
	FeatV6                                  // ARMv6: REV, SXT, UXT, CPS, CPY
	FeatV6K                                 // ARMv6K: NOP-compatible hints in A32
	FeatHint                                // NOP and the hints as T16 encodings of their own (ARMv6T2, ARMv6-M)
	FeatSetend                              // ARMv6, A and R profile: SETEND
	FeatM                                   // M profile: MRS and MSR on special registers
	FeatBar                                 // DMB, DSB, ISB
	FeatWideB                               // BL reaches 16 MB (ARMv6T2, ARMv6-M)
	FeatCBZ                                 // CBZ, CBNZ (ARMv6T2, ARMv8-M)
	FeatT32                                 // ARMv6T2: 32-bit encodings beside T16
	FeatMovW                                // MOVW and MOVT in T32 code (ARMv6T2, ARMv8-M baseline)
	FeatHlt                                 // HLT (ARMv8-A)
	FeatSec                                 // Security Extension of ARMv8-M: BXNS, BLXNS
	FeatV5                                  // ARMv5: CLZ, BKPT and the second coprocessor space in A32
	FeatSVC                                 // SVC (everywhere but in ARMv6-M without the OS extension)
	FeatDSP                                 // DSP and SIMD instructions in T32 (ARMv6T2 and ARMv7-A/R, ARMv7E-M, ARMv8-M with the extension)
	FeatDivThumb                            // SDIV and UDIV in T32 (ARMv7-R, ARMv7-M, ARMv8-M, ARMv7-A with the Virtualization Extensions)
	FeatDivA32                              // SDIV and UDIV in A32
	FeatExclusiveThumb                      // LDREX and STREX, LDREXB, LDREXH, CLREX in T32 (ARMv6T2, for assemblers; ARMv7, ARMv8-M baseline)
	FeatMP                                  // PLDW (ARMv7 with the Multiprocessing Extensions)
	FeatSMC                                 // SMC (Security Extensions of the A profile)
	FeatVirt                                // HVC, ERET, banked registers in MRS and MSR (Virtualization Extensions)
	FeatLDA                                 // LDA, STL, LDAEX, STLEX (ARMv8, ARMv8-M baseline)
	FeatV8                                  // ARMv8-A/R: SP in T32 data processing, LDAEXD, SEVL, DCPS, barriers of loads
	FeatCRC                                 // CRC32 (ARMv8-A)
	FeatPAN                                 // SETPAN (ARMv8.1-A)
	FeatRAS                                 // ESB (RAS Extension)
	FeatSB                                  // SB (ARMv8.5-A)
	FeatV81M                                // ARMv8.1-M mainline: loops, conditional selects, and more that is only recognised
	FeatVFP                                 // VFPv1: single precision
	FeatVFPD                                // double precision
	FeatVFP2                                // VFPv2: VMOV and VMRS between pairs of registers
	FeatVFP3                                // VFPv3: constants, fixed point
	FeatD32                                 // 32 double registers
	FeatHalf                                // conversions to half precision
	FeatFMA                                 // VFPv4: fused multiply and add
	FeatFPv8                                // FPv5 and ARMv8: VSEL, VMAXNM, VRINT, VCVTA
	FeatNEON                                // Advanced SIMD
	FeatNEONFMA                             // Advanced SIMDv2: fused multiply and add
	FeatNEONv8                              // Advanced SIMD of ARMv8
	FeatCrypto                              // AES, SHA
	FeatNEON81                              // VQRDMLAH, VQRDMLSH (ARMv8.1-A)
	FeatFP16                                // arithmetic in half precision (ARMv8.2-A)
	FeatDot                                 // VSDOT, VUDOT (ARMv8.2-A)
	FeatFML                                 // VFMAL, VFMSL (ARMv8.2-A)
	FeatCplx                                // VCMLA, VCADD, VJCVT (ARMv8.3-A)
	FeatBF16                                // BFloat16 (ARMv8.6-A)
	FeatI8MM                                // matrix multiplication (ARMv8.6-A)
	FeatV8R                                 // ARMv8-R: DFB
)

// Has says whether all of need are in f.
func (f Features) Has(need Features) bool { return f&need == need }

// firsts lists, in the order of time, the architectures that brought the
// features, with all that they have (Arm ARM, appendix "Architecture history";
// ARMv6-M ARM, DDI 0419). Where two profiles got a feature at different times,
// both are named.
var firsts = []struct {
	name string
	has  Features
}{
	{"every architecture", 0},
	{"ARMv4T", sinceV4T},
	{"ARMv5", FeatV5},
	{"ARMv5T", sinceV5T},
	{"ARMv5TE", sinceV5T | FeatV5TE},
	{"ARMv6", sinceV6},
	{"ARMv6 (A and R profile)", sinceV6 | FeatSetend},
	{"ARMv6K", sinceV6 | FeatSetend | FeatV6K},
	{"ARMv6T2 and ARMv6-M", sinceV6 | FeatHint | FeatWideB},
	{"ARMv6-M", sinceV6 | FeatHint | FeatWideB | FeatM | FeatBar},
	{"ARMv6T2, ARMv7-M and ARMv8-M", sinceV6 | FeatHint | FeatWideB | FeatCBZ | FeatMovW},
	{"ARMv6T2 and ARMv7-M", sinceV6 | FeatHint | FeatWideB | FeatCBZ | FeatMovW | FeatT32},
	{"ARMv6T2", sinceV6 | FeatSetend | FeatV6K | FeatHint | FeatWideB | FeatCBZ | FeatMovW | FeatT32},
	{"ARMv7-M", sinceV6 | FeatHint | FeatWideB | FeatCBZ | FeatMovW | FeatT32 | FeatM | FeatBar},
	{"ARMv7", sinceV6 | FeatSetend | FeatV6K | FeatHint | FeatWideB | FeatCBZ | FeatMovW | FeatT32 | FeatBar},
	{"ARMv8-A", sinceV6 | FeatSetend | FeatV6K | FeatHint | FeatWideB | FeatCBZ | FeatMovW | FeatT32 | FeatBar | FeatHlt},
}

// firstExtensions names what brought the features that came, or could come,
// beside an architecture's own, each with its name in the manuals (DDI 0406,
// DDI 0403, DDI 0553 and DDI 0487, from memory). The first of those in need is
// the one to name: an instruction of half-precision arithmetic needs a unit of
// an earlier time as well.
var firstExtensions = []struct {
	name string
	has  Features
}{
	{"ARMv8.1-M", FeatV81M},
	{"ARMv8.6-A", FeatBF16 | FeatI8MM},
	{"ARMv8.5-A", FeatSB},
	{"ARMv8.3-A", FeatCplx},
	{"ARMv8.2-A with the long multiplication of half precision", FeatFML},
	{"ARMv8.2-A with the dot product", FeatDot},
	{"ARMv8.2-A with half-precision arithmetic", FeatFP16},
	{"ARMv8-A with the RAS Extension", FeatRAS},
	{"ARMv8.1-A", FeatPAN | FeatNEON81},
	{"ARMv8-A with the Cryptographic Extension", FeatCrypto},
	{"the Advanced SIMD of ARMv8", FeatNEONv8},
	{"Advanced SIMD version 2", FeatNEONFMA},
	{"Advanced SIMD", FeatNEON},
	{"FPv5 and ARMv8", FeatFPv8},
	{"VFPv4", FeatFMA},
	{"VFPv3 with half precision", FeatHalf},
	{"VFPv3", FeatVFP3 | FeatD32},
	{"VFPv2", FeatVFP2},
	{"VFPv1 with double precision", FeatVFPD},
	{"VFPv1", FeatVFP},
	{"ARMv8-A with the CRC instructions", FeatCRC},
	{"ARMv8-R", FeatV8R},
	{"ARMv8-A and ARMv8-R", FeatV8},
	{"ARMv8", FeatLDA},
	{"ARMv7-A with the Virtualization Extensions", FeatVirt | FeatDivA32},
	{"ARMv7 with the Multiprocessing Extensions", FeatMP},
	{"ARMv6K with the Security Extensions", FeatSMC},
	{"ARMv7-M and ARMv7-R", FeatDivThumb},
	{"ARMv6T2 and ARMv7E-M", FeatDSP},
	{"ARMv6T2, ARMv7-M and ARMv8-M", FeatExclusiveThumb},
	{"ARMv8-M", FeatSec},
	{"the OS extension of ARMv6-M", FeatSVC},
}

// firstExtensionBits are all those in firstExtensions.
var firstExtensionBits = func() (all Features) {
	for _, x := range firstExtensions {
		all |= x.has
	}
	return all
}()

const (
	sinceV4T = FeatT16
	sinceV5T = sinceV4T | FeatV5 | FeatV5T
	sinceV6  = sinceV5T | FeatV5TE | FeatV6
)

// First names the first architecture that has all of the features in need,
// as a phrase: "ARMv5T", "ARMv6T2 and ARMv6-M".
func (need Features) First() string {
	switch need {
	case FeatA32:
		need |= FeatT16
	case FeatBar:
		return "ARMv6-M and ARMv7"
	case FeatBar | FeatT32:
		return "ARMv7"
	}
	for _, x := range firstExtensions {
		if need&x.has == 0 {
			continue
		}
		switch {
		case need&FeatA32 != 0 && strings.Contains(x.name, "-M"):
			return notOfM(x.name)
		case x.has&(FeatVFP3|FeatFMA|FeatFPv8) == 0:
		case need&FeatD32 != 0:
			return x.name + " with 32 double registers"
		case need&FeatVFPD != 0:
			return x.name + " with double precision"
		}
		return x.name
	}
	for _, f := range firsts {
		if f.has.Has(need &^ FeatA32) {
			if need&FeatA32 != 0 && !strings.Contains(f.name, "(") {
				return notOfM(f.name)
			}
			return f.name
		}
	}
	return "no architecture"
}

// notOfM is the name of a first architecture without those of the M profile, which
// are after it.
func notOfM(name string) string {
	name, _, _ = strings.Cut(name, " and ")
	name, _, _ = strings.Cut(name, ", ")
	return name + " (A and R profile)"
}

// Target is a named architecture, core or floating-point unit as the
// assembler's -march, -mcpu and -mfpu take it.
type Target struct {
	Name string
	Have Features
	// Own is the part of Have that a core has by extensions to its
	// architecture, so that an extension name with "no" takes it away.
	Own Features
	// ext are the extension names that may follow, each after a '+'. They have blanks between
	// them: a constant needs nothing at the start of each process.
	ext string
}

// Ext lists the extension names that may follow, sorted, each after a '+'.
func (t *Target) Ext() []string { return strings.Fields(t.ext) }

// find is the index of name in a sorted list, -1 without it.
func find(list []Target, name string) int {
	i := sort.Search(len(list), func(i int) bool { return list[i].Name >= name })
	if i < len(list) && list[i].Name == name {
		return i
	}
	return -1
}

func lookup(list []Target, name string) (Target, bool) {
	if i := find(list, name); i >= 0 {
		return list[i], true
	}
	return Target{}, false
}

func names(list []Target) []string {
	out := make([]string, len(list))
	for i, t := range list {
		out[i] = t.Name
	}
	return out
}

// ArchNames, CPUNames and FPUNames list the known names, sorted.
func ArchNames() []string { return names(arches) }

// CPUNames lists the known cores, sorted.
func CPUNames() []string { return names(cpus) }

// FPUNames lists the known floating-point units, sorted.
func FPUNames() []string { return names(fpus) }

// Arch finds an architecture by name, without extensions.
func Arch(name string) (Target, bool) { return lookup(arches, name) }

// CPU finds a core by name, without extensions.
func CPU(name string) (Target, bool) { return lookup(cpus, name) }

// FPU finds a floating-point unit by name.
func FPU(name string) (Target, bool) { return lookup(fpus, name) }
