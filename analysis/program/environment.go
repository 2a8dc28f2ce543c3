package program

import (
	"strconv"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Predefined lists the macros that a compiler's preprocessor has for a target
// without being told, as "NAME=text". Names and values are those of the Arm C
// Language Extensions (IHI 0053, "Predefined macros"), from memory, and the
// older ones that sources ask for as well; TestPredefined compares them with a
// compiler's. What depends on more than the target, as the calling convention
// does, is as for code without a floating-point unit in the calls.
func (e *Environment) Predefined() []string {
	h := e.Have
	m := h.Has(isa.FeatM)
	thumb := e.Mode == isa.T
	t32 := h.Has(isa.FeatT32)
	arch, suffix, profile := e.Generation()

	out := []string{
		"__arm__=1", "__ARMEL__=1", "__APCS_32__=1", "__ARM_EABI__=1", "__ELF__=1", "__VFP_FP__=1", "__THUMB_INTERWORK__=1",
		"__CHAR_BIT__=8", "__USER_LABEL_PREFIX__=",
		"__ORDER_LITTLE_ENDIAN__=1234", "__ORDER_BIG_ENDIAN__=4321", "__BYTE_ORDER__=__ORDER_LITTLE_ENDIAN__",
		"__ARM_PCS=1", "__ARM_SIZEOF_WCHAR_T=4", "__ARM_SIZEOF_MINIMAL_ENUM=1",
		"__ARM_ARCH=" + strconv.Itoa(arch), "__ARM_ARCH_" + suffix + "__=1",
	}
	def := func(when bool, names ...string) {
		if when {
			for _, n := range names {
				out = append(out, n+"=1")
			}
		}
	}
	if profile != 0 {
		out = append(out, "__ARM_ARCH_PROFILE="+strconv.Itoa(int(profile)))
	}
	def(h.Has(isa.FeatA32), "__ARM_ARCH_ISA_ARM")
	switch {
	case t32:
		out = append(out, "__ARM_ARCH_ISA_THUMB=2")
	case h.Has(isa.FeatT16):
		out = append(out, "__ARM_ARCH_ISA_THUMB=1")
	}
	def(thumb, "__thumb__", "__THUMBEL__")
	def(thumb && t32, "__thumb2__", "__ARM_ASM_SYNTAX_UNIFIED__")

	// What follows exists in A32 code, or in T32.
	full := !thumb || t32
	def(full, "__ARM_32BIT_STATE")
	v6 := h.Has(isa.FeatV6)
	div := h.Has(isa.FeatDivThumb) && thumb || h.Has(isa.FeatDivA32) && !thumb
	dsp := h.Has(isa.FeatV5TE) && full && (!thumb || h.Has(isa.FeatDSP)) || h.Has(isa.FeatDSP) && full
	def(h.Has(isa.FeatV5) && full, "__ARM_FEATURE_CLZ")
	def(div, "__ARM_FEATURE_IDIV", "__ARM_ARCH_EXT_IDIV__")
	def(dsp, "__ARM_FEATURE_DSP")
	def(dsp || t32 && full, "__ARM_FEATURE_QBIT")
	def(v6 && full, "__ARM_FEATURE_SAT", "__ARM_FEATURE_UNALIGNED")
	def(dsp && v6, "__ARM_FEATURE_SIMD32")
	def(m && h.Has(isa.FeatSec), "__ARM_FEATURE_CMSE")
	def(h.Has(isa.FeatCRC), "__ARM_FEATURE_CRC32")
	ldrex := 0
	switch {
	case !full && !h.Has(isa.FeatLDA):
	case m && h.Has(isa.FeatExclusiveThumb):
		ldrex = 7 // bytes, halfwords, words
	case h.Has(isa.FeatV6K) && (!t32 || h.Has(isa.FeatBar)):
		ldrex = 15 // and doublewords
	case v6 && !thumb && !m:
		ldrex = 4
	}
	if ldrex > 0 {
		out = append(out, "__ARM_FEATURE_LDREX="+strconv.Itoa(ldrex))
	}
	coproc := 0
	switch {
	case !full || h.Has(isa.FeatV8):
	case v6:
		coproc = 15
	case h.Has(isa.FeatV5TE):
		coproc = 7
	case h.Has(isa.FeatV5):
		coproc = 3
	default:
		coproc = 1
	}
	if coproc > 0 {
		out = append(out, "__ARM_FEATURE_COPROC="+strconv.Itoa(coproc))
	}

	// A floating-point unit by its registers: single, double, half precision.
	fp := 0
	if h.Has(isa.FeatVFP) && full {
		fp = 4
		if h.Has(isa.FeatVFPD) {
			fp |= 8
		}
		if h.Has(isa.FeatFPv8|isa.FeatVFPD) || h.Has(isa.FeatFMA|isa.FeatNEON) {
			fp |= 2
		}
		out = append(out, "__ARM_FP="+strconv.Itoa(fp))
	}
	def(fp == 0, "__SOFTFP__")
	def(fp != 0 && h.Has(isa.FeatFMA), "__ARM_FEATURE_FMA")
	def(fp != 0 && h.Has(isa.FeatNEONv8), "__ARM_FEATURE_NUMERIC_MAXMIN")
	if fp != 0 && h.Has(isa.FeatNEON) {
		def(true, "__ARM_NEON", "__ARM_NEON__")
		out = append(out, "__ARM_NEON_FP="+strconv.Itoa(fp&^8))
	}
	return out
}

// Generation is the number of the architecture, what its own macro is called,
// and the profile's letter, 0 before ARMv7.
func (e *Environment) Generation() (arch int, suffix string, profile byte) {
	h := e.Have
	switch {
	case h.Has(isa.FeatM):
		switch {
		case h.Has(isa.FeatV81M):
			return 8, "8M_MAIN", 'M'
		case h.Has(isa.FeatSec | isa.FeatT32):
			return 8, "8M_MAIN", 'M'
		case h.Has(isa.FeatSec):
			return 8, "8M_BASE", 'M'
		case h.Has(isa.FeatT32 | isa.FeatDSP):
			return 7, "7EM", 'M'
		case h.Has(isa.FeatT32):
			return 7, "7M", 'M'
		}
		return 6, "6M", 'M'
	case h.Has(isa.FeatV8):
		if strings.HasPrefix(e.Target, "armv8-r") || strings.HasPrefix(e.Target, "cortex-r") {
			return 8, "8R", 'R'
		}
		return 8, "8A", 'A'
	case h.Has(isa.FeatT32 | isa.FeatBar):
		switch {
		case !h.Has(isa.FeatA32):
			return 7, "7", 0
		case h.Has(isa.FeatDivThumb) && !h.Has(isa.FeatSMC):
			return 7, "7R", 'R'
		}
		return 7, "7A", 'A'
	case h.Has(isa.FeatT32):
		return 6, "6T2", 0
	case h.Has(isa.FeatV6K | isa.FeatSMC):
		return 6, "6ZK", 0
	case h.Has(isa.FeatV6K):
		return 6, "6K", 0
	case h.Has(isa.FeatV6):
		return 6, "6", 0
	case h.Has(isa.FeatV5TE):
		return 5, "5TE", 0
	case h.Has(isa.FeatV5T):
		return 5, "5T", 0
	case h.Has(isa.FeatT16):
		return 4, "4T", 0
	}
	return 4, "4", 0
}

// Preprocesses says whether the root file goes through the preprocessor.
func (e *Environment) Preprocesses(path string) bool {
	switch e.Preprocess {
	case "always":
		return true
	case "never":
		return false
	}
	return strings.HasSuffix(path, ".S") || strings.HasSuffix(path, ".sx")
}

// Full says whether Thumb state has encodings of full width beside those
// of a halfword, so that instructions may grow.
func (e *Environment) Full() bool {
	return e.Mode == isa.T && e.Unified && e.Have&(isa.FeatT32|isa.FeatMovW) != 0
}

// NameOnly says whether a name is known, and nothing else of it: no row
// describes it.
func NameOnly(m *isa.Mnemonic, e *Environment) bool {
	return e.Full() && !m.Checked(&isa.Query{Have: e.Have, Unified: e.Unified})
}

// Env is what a set of settings or directives comes to.
type Environment struct {
	Mode    isa.State
	Unified bool
	// Assumed: Mode is T16 or T32 as the target has no A32 code, which the source asks for.
	Assumed bool
	// Implicit: the assembler inserts IT lines in T32 code.
	Implicit   bool
	Preprocess string // auto, always or never
	Selection  isa.Selection
	Have       isa.Features // what sel has
	Target     string       // the architecture's or core's name, for messages
	Chosen     bool         // somebody named it
	Said       bool         // a directive did
	// Dialect is that of the sources, if forced; else each has its own.
	Dialect    syntax.Dialect
	Forced     bool
	AlignBytes bool // .align counts bytes
	HalfWords  bool // .word has 2 bytes
}
