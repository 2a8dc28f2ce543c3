package sources

import (
	"fmt"
	"slices"
	"strings"
)

// Config is a target: what a compiler's command line chooses.
type Config struct {
	Name  string // names it in reports
	Arch  string // the -march value
	FPU   string // the -mfpu value; empty: none given
	Thumb bool   // -mthumb; it changes macros only, sources begin with the assembler's default
	Big   bool   // -mbig-endian
	Hard  bool   // -mfloat-abi=hard
	Apart bool   // -mno-thumb-interwork
	core  core
	more  []string // further macros
}

// core is what the macros say of an architecture.
type core struct {
	version int    // __ARM_ARCH
	suffix  string // of __ARM_ARCH_…__
	profile byte   // A, R, M; 0 before there were profiles
	a32     bool
	thumb   int // 1: T16, 2: with T32
	ldrex   int // widths that exclusive accesses have, one bit each
	has     string
}

// The architectures. has lists the features with a macro of their own: clz,
// dsp, qbit, sat, simd, idiv and unaligned.
var (
	v4t    = core{4, "4T", 0, true, 1, 0, ""}
	v5te   = core{5, "5TE", 0, true, 1, 0, "clz dsp qbit"}
	v6     = core{6, "6", 0, true, 1, 4, "clz dsp qbit sat simd unaligned"}
	v6t2   = core{6, "6T2", 0, true, 2, 4, "clz dsp qbit sat simd unaligned"}
	v6m    = core{6, "6M", 'M', false, 1, 0, ""}
	v7a    = core{7, "7A", 'A', true, 2, 15, "clz dsp qbit sat simd unaligned"}
	v7r    = core{7, "7R", 'R', true, 2, 15, "clz dsp qbit sat simd unaligned"}
	v7ve   = core{7, "7A", 'A', true, 2, 15, "clz dsp qbit sat simd unaligned idiv"}
	v7m    = core{7, "7M", 'M', false, 2, 7, "clz qbit sat unaligned idiv"}
	v7em   = core{7, "7EM", 'M', false, 2, 7, "clz dsp qbit sat simd unaligned idiv"}
	v8a    = core{8, "8A", 'A', true, 2, 15, "clz dsp qbit sat simd unaligned idiv"}
	v8base = core{8, "8M_BASE", 'M', false, 1, 7, "idiv"}
	v8main = core{8, "8M_MAIN", 'M', false, 2, 7, "clz qbit sat unaligned idiv"}
)

// Configs are the targets for which sources are read.
var Configs = []Config{
	{Name: "armv4t", Arch: "armv4t", core: v4t},
	{Name: "armv4t-thumb", Arch: "armv4t", Thumb: true, core: v4t},
	{Name: "armv4t-apart", Arch: "armv4t", Apart: true, core: v4t},
	{Name: "armv5te", Arch: "armv5te", core: v5te},
	{Name: "armv5te-thumb", Arch: "armv5te", Thumb: true, core: v5te},
	{Name: "armv6", Arch: "armv6", core: v6},
	{Name: "armv6-thumb", Arch: "armv6", Thumb: true, core: v6},
	{Name: "armv6t2", Arch: "armv6t2", core: v6t2},
	{Name: "armv6t2-thumb", Arch: "armv6t2", Thumb: true, core: v6t2},
	{Name: "armv6-m", Arch: "armv6-m", Thumb: true, core: v6m},
	{Name: "armv7-a", Arch: "armv7-a", core: v7a},
	{Name: "armv7-a-thumb", Arch: "armv7-a", Thumb: true, core: v7a},
	{Name: "armv7-a-big", Arch: "armv7-a", Big: true, core: v7a},
	{Name: "armv7-a-neon", Arch: "armv7-a", FPU: "neon", Hard: true, core: v7a},
	{Name: "armv7-a-neon-thumb", Arch: "armv7-a", FPU: "neon", Hard: true, Thumb: true, core: v7a},
	{Name: "armv7ve-thumb", Arch: "armv7ve", FPU: "neon-vfpv4", Hard: true, Thumb: true, core: v7ve},
	{Name: "armv7-r", Arch: "armv7-r", FPU: "vfpv3-d16", Hard: true, Thumb: true, core: v7r},
	{Name: "armv7-m", Arch: "armv7-m", Thumb: true, core: v7m},
	{Name: "armv7e-m", Arch: "armv7e-m+fp", Hard: true, Thumb: true, core: v7em},
	{Name: "armv8-m.base", Arch: "armv8-m.base", Thumb: true, core: v8base, more: []string{"__ARM_FEATURE_CMSE=3"}},
	{Name: "armv8-m.main", Arch: "armv8-m.main", Thumb: true, core: v8main, more: []string{"__ARM_FEATURE_CMSE=3"}},
	{Name: "armv8-m.main-fp", Arch: "armv8-m.main+fp+dsp", Hard: true, Thumb: true, core: v8main, more: []string{"__ARM_FEATURE_CMSE=3", "__ARM_FEATURE_DSP=1"}},
	{Name: "armv8-a", Arch: "armv8-a", FPU: "neon-fp-armv8", Hard: true, core: v8a},
}

// Flags are the assembler's options for the target.
func (c *Config) Flags() []string {
	f := []string{"-march=" + c.Arch, "-meabi=5"}
	if c.FPU != "" {
		f = append(f, "-mfpu="+c.FPU)
	}
	if c.Hard {
		f = append(f, "-mfloat-abi=hard")
	} else {
		f = append(f, "-mfloat-abi=soft")
	}
	if c.Big {
		f = append(f, "-EB")
	}
	return f
}

// A32 says whether the target has A32 code.
func (c *Config) A32() bool { return c.core.a32 }

// Compiler are macros of GNU compilers that say nothing of the target.
var Compiler = []string{"__GNUC__=12", "__GNUC_MINOR__=2", "__OPTIMIZE__=1", "__CHAR_UNSIGNED__=1", "__SIZEOF_POINTER__=4", "__REGISTER_PREFIX__="}

// Defines are the macros that a compiler for the target defines, each as
// NAME=text: those of the Arm C Language Extensions (ACLE, "Feature test
// macros") and of the EABI, and what GNU compilers define besides; all from
// memory. How an architecture's bits are numbered in __ARM_FEATURE_LDREX and
// __ARM_FP follows ACLE.
func (c *Config) Defines() []string {
	k := &c.core
	d := append(slices.Clone(Compiler),
		"__CHAR_BIT__=8", "__ORDER_LITTLE_ENDIAN__=1234", "__ORDER_BIG_ENDIAN__=4321", "__USER_LABEL_PREFIX__=",
		"__ELF__=1", "__arm__=1", "__ARM_EABI__=1", "__VFP_FP__=1", "__ARM_SIZEOF_WCHAR_T=4", "__ARM_SIZEOF_MINIMAL_ENUM=1",
		fmt.Sprintf("__ARM_ARCH=%d", k.version), "__ARM_ARCH_"+k.suffix+"__=1", fmt.Sprintf("__ARM_ARCH_ISA_THUMB=%d", k.thumb))
	add := func(s ...string) { d = append(d, s...) }
	if c.Big {
		add("__ARMEB__=1", "__BYTE_ORDER__=4321", "__ARM_BIG_ENDIAN=1")
	} else {
		add("__ARMEL__=1", "__BYTE_ORDER__=1234")
	}
	if !c.Apart {
		add("__THUMB_INTERWORK__=1")
	}
	if k.a32 {
		add("__ARM_ARCH_ISA_ARM=1")
	}
	if !c.Thumb || k.thumb == 2 {
		add("__ARM_32BIT_STATE=1")
	}
	if k.profile != 0 {
		add(fmt.Sprintf("__ARM_ARCH_PROFILE=%d", k.profile))
	}
	if c.Thumb {
		add("__thumb__=1")
		if k.thumb == 2 {
			add("__thumb2__=1", "__ARM_ASM_SYNTAX_UNIFIED__=1")
		}
		if !c.Big {
			add("__THUMBEL__=1")
		}
	}
	if k.ldrex != 0 && (!c.Thumb || k.thumb == 2 || k.profile == 'M') {
		add(fmt.Sprintf("__ARM_FEATURE_LDREX=%d", k.ldrex))
	}
	// T16 code has none of it.
	if !c.Thumb || k.thumb == 2 || !k.a32 {
		for _, f := range strings.Fields(k.has) {
			add("__ARM_FEATURE_" + map[string]string{"clz": "CLZ", "dsp": "DSP", "qbit": "QBIT", "sat": "SAT", "simd": "SIMD32", "idiv": "IDIV", "unaligned": "UNALIGNED"}[f] + "=1")
		}
	}
	switch {
	case !c.Hard:
		add("__SOFTFP__=1", "__ARM_PCS=1")
	case strings.HasPrefix(c.Arch, "armv7e-m"), strings.HasPrefix(c.Arch, "armv8-m"):
		add("__ARM_FP=4", "__ARM_PCS_VFP=1")
	default:
		add("__ARM_FP=12", "__ARM_PCS_VFP=1")
	}
	if strings.Contains(c.FPU, "neon") {
		add("__ARM_NEON=1", "__ARM_NEON__=1", "__ARM_NEON_FP=4")
	}
	return append(d, c.more...)
}
