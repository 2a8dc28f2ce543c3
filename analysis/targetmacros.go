package analysis

import (
	"fmt"
	"slices"
	"strings"

	"narrowgauge/isa"
)

// TargetMacros lists the macros that compilers define for the target of the
// settings, as NAME=text, in the form of [Settings.Defines] and to be put in
// front of those: what Arm C Language Extensions (IHI 0053, "Feature test
// macros") and GCC's preprocessor name after the architecture, the instruction
// set and the floating-point unit. The compiler's instruction set is T16 or T32
// where Defines has __thumb__, the settings start in thumb, or there is no
// other. What calls pass in floating-point registers (__ARM_PCS_VFP) hangs on an
// option that has no setting. Settings that do not resolve have none.
func TargetMacros(set *Settings) []string {
	e, err := set.env()
	if err != nil {
		return nil
	}
	have := e.have
	has := func(f isa.Features) bool { return have.Has(f) }
	a32 := has(isa.FeatA32)
	thumb := !a32 || e.mode == isa.T
	if set != nil {
		thumb = thumb || slices.ContainsFunc(set.Defines, func(d string) bool {
			name, _, _ := strings.Cut(d, "=")
			return name == "__thumb__"
		})
	}
	thumb = thumb && has(isa.FeatT16)
	t32 := thumb && has(isa.FeatT32)
	wide := !thumb || t32 // code of 32 bits

	var out []string
	add := func(names ...string) {
		for _, n := range names {
			out = append(out, n+"=1")
		}
	}
	when := func(cond bool, names ...string) {
		if cond {
			add(names...)
		}
	}
	number := func(name string, v int) { out = append(out, fmt.Sprintf("%s=%d", name, v)) }

	// What every target has.
	add("__arm__", "__ARM_EABI__", "__APCS_32__", "__THUMB_INTERWORK__", "__ARMEL__", "__ELF__", "__VFP_FP__", "__CHAR_UNSIGNED__")
	number("__GNUC__", 12)
	number("__GNUC_MINOR__", 2)
	number("__CHAR_BIT__", 8)
	for _, n := range []string{"POINTER", "INT", "LONG", "SIZE_T"} {
		number("__SIZEOF_"+n+"__", 4)
	}
	number("__ORDER_LITTLE_ENDIAN__", 1234)
	number("__ORDER_BIG_ENDIAN__", 4321)
	out = append(out, "__BYTE_ORDER__=__ORDER_LITTLE_ENDIAN__", "__FLOAT_WORD_ORDER__=__ORDER_LITTLE_ENDIAN__",
		"__USER_LABEL_PREFIX__=", "__REGISTER_PREFIX__=")

	version, suffix, profile := architecture(have)
	switch { // what no feature tells
	case suffix == "8A" && (strings.HasPrefix(e.target, "armv8-r") || strings.HasPrefix(e.target, "cortex-r")):
		suffix, profile = "8R", 'R'
	case suffix == "5TE" && strings.Contains(e.target, "ej"):
		suffix = "5TEJ"
	}
	number("__ARM_ARCH", version)
	add("__ARM_ARCH_" + suffix + "__")
	if profile != 0 {
		number("__ARM_ARCH_PROFILE", int(profile))
	}
	when(suffix == "6KZ", "__ARM_ARCH_6ZK__") // an older spelling
	when(a32, "__ARM_ARCH_ISA_ARM")
	when(wide, "__ARM_32BIT_STATE")
	if has(isa.FeatT16) {
		n := 1
		if has(isa.FeatT32) {
			n = 2
		}
		number("__ARM_ARCH_ISA_THUMB", n)
	}
	when(thumb, "__thumb__", "__THUMBEL__")
	when(t32, "__thumb2__")

	when(wide && has(isa.FeatV5) || t32, "__ARM_FEATURE_CLZ")
	when(!thumb && has(isa.FeatV5TE) || t32, "__ARM_FEATURE_QBIT")
	when(!thumb && has(isa.FeatV5TE) || t32 && has(isa.FeatDSP), "__ARM_FEATURE_DSP")
	when(!thumb && has(isa.FeatV6) || t32, "__ARM_FEATURE_SAT", "__ARM_FEATURE_UNALIGNED")
	when(!thumb && has(isa.FeatV6) || t32 && has(isa.FeatDSP), "__ARM_FEATURE_SIMD32")
	when(thumb && has(isa.FeatDivT) || !thumb && has(isa.FeatDivA), "__ARM_FEATURE_IDIV", "__ARM_ARCH_EXT_IDIV__")
	when(has(isa.FeatSec) && !a32, "__ARM_FEATURE_CMSE")
	switch {
	case !a32:
		if version > 6 {
			number("__ARM_FEATURE_LDREX", 7)
		}
	case thumb && version < 7 || !has(isa.FeatV6):
	case has(isa.FeatV6K):
		if suffix == "6T2" {
			number("__ARM_FEATURE_LDREX", 4)
			break
		}
		number("__ARM_FEATURE_LDREX", 15)
	default:
		number("__ARM_FEATURE_LDREX", 4)
	}

	if !has(isa.FeatVFP) || !wide {
		add("__SOFTFP__")
		return out
	}
	fp := 4
	if has(isa.FeatVFPD) {
		fp = 12
		if has(isa.FeatFMA) || set != nil && strings.Contains(set.FPU+set.Arch+set.CPU, "fp16") {
			fp = 14
		}
	}
	number("__ARM_FP", fp)
	when(has(isa.FeatFMA), "__ARM_FEATURE_FMA")
	when(has(isa.FeatFPv8|isa.FeatNEON), "__ARM_FEATURE_NUMERIC_MAXMIN")
	if has(isa.FeatNEON) {
		add("__ARM_NEON", "__ARM_NEON__")
		number("__ARM_NEON_FP", fp&^8)
	}
	return out
}

// architecture is the version, the part of the macro's name, and the profile
// of the architecture that has the features; no profile before ARMv7 but M.
func architecture(have isa.Features) (version int, suffix string, profile byte) {
	has := func(f isa.Features) bool { return have.Has(f) }
	switch {
	case !has(isa.FeatA32):
		switch {
		case has(isa.FeatV81M):
			return 8, "8_1M_MAIN", 'M'
		case has(isa.FeatT32 | isa.FeatLDA):
			return 8, "8M_MAIN", 'M'
		case has(isa.FeatT32 | isa.FeatDSP):
			return 7, "7EM", 'M'
		case has(isa.FeatT32):
			return 7, "7M", 'M'
		case has(isa.FeatMovW):
			return 8, "8M_BASE", 'M'
		}
		return 6, "6M", 'M'
	case has(isa.FeatV8):
		return 8, "8A", 'A'
	case has(isa.FeatT32 | isa.FeatBar):
		if has(isa.FeatDivT) && !has(isa.FeatVirt) {
			return 7, "7R", 'R'
		}
		return 7, "7A", 'A'
	case has(isa.FeatT32):
		return 6, "6T2", 0
	case has(isa.FeatV6K | isa.FeatSMC):
		return 6, "6KZ", 0
	case has(isa.FeatV6K):
		return 6, "6K", 0
	case has(isa.FeatV6):
		return 6, "6", 0
	case has(isa.FeatV5TE):
		return 5, "5TE", 0
	case has(isa.FeatV5T):
		return 5, "5T", 0
	case has(isa.FeatT16):
		return 4, "4T", 0
	}
	return 4, "4", 0
}
