package isa

import "strings"

// The names that assemblers take behind -march, -mcpu and -mfpu, with what
// each brings to the compact state. TestTargets compares names, extensions
// and features with the reference assembler. Where that assembler takes an
// instruction that the manual does not give the architecture, the manual
// decides: no SETEND on M profile (DDI 0403 and 0419), HLT from ARMv8 on
// (DDI 0487), T16 hints from ARMv6T2 and ARMv6-M on (DDI 0406, "NOP"), and BL
// reaches 16 MB on ARMv6-M too (DDI 0419, "BL"). The test lists each such case.

var (
	ext0  = strings.Fields("crc crypto dsp fp idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nodsp nofp noidiv noiwmmxt noiwmmxt2 nomaverick nomp noos nopredres noras nordma nosb nosec nosimd novirt noxscale os predres ras rdma sb sec simd virt xscale")
	ext1  = strings.Fields("iwmmxt iwmmxt2 maverick noiwmmxt noiwmmxt2 nomaverick noxscale xscale")
	ext2  = strings.Fields("fp iwmmxt iwmmxt2 maverick nofp noiwmmxt noiwmmxt2 nomaverick noxscale xscale")
	ext3  = strings.Fields("iwmmxt iwmmxt2 maverick noiwmmxt noiwmmxt2 nomaverick noos nosec noxscale os sec xscale")
	ext4  = strings.Fields("fp iwmmxt iwmmxt2 maverick nofp noiwmmxt noiwmmxt2 nomaverick nosec noxscale sec xscale")
	ext5  = strings.Fields("fp idiv iwmmxt iwmmxt2 maverick mp neon neon-fp16 neon-vfpv3 neon-vfpv4 nofp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nosec nosimd novirt noxscale sec simd vfpv3 vfpv3-d16 vfpv3-d16-fp16 vfpv3-fp16 vfpv4 vfpv4-d16 virt xscale")
	ext6  = strings.Fields("fp fp.sp idiv iwmmxt iwmmxt2 maverick mp nofp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nosec noxscale sec vfpv3-d16 vfpv3-d16-fp16 vfpv3xd vfpv3xd-fp16 xscale")
	ext7  = strings.Fields("fp fp.dp fpv5 fpv5-d16 iwmmxt iwmmxt2 maverick nofp noiwmmxt noiwmmxt2 nomaverick noos nosec noxscale os sec vfpv4-sp-d16 xscale")
	ext8  = strings.Fields("crc crypto fp idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nofp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nopredres noras nordma nosb nosec nosimd novirt noxscale predres ras rdma sb sec simd virt xscale")
	ext9  = strings.Fields("cdecp0 cdecp1 cdecp2 cdecp3 cdecp4 cdecp5 cdecp6 cdecp7 dsp fp fp.dp iwmmxt iwmmxt2 maverick nodsp nofp noiwmmxt noiwmmxt2 nomaverick noos nosec noxscale os sec xscale")
	ext10 = strings.Fields("crc crypto fp fp.sp idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nofp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nosec nosimd novirt noxscale sec simd virt xscale")
	ext11 = strings.Fields("cdecp0 cdecp1 cdecp2 cdecp3 cdecp4 cdecp5 cdecp6 cdecp7 dsp fp fp.dp iwmmxt iwmmxt2 maverick mve mve.fp nodsp nofp noiwmmxt noiwmmxt2 nomaverick nomve noos nosec noxscale os pacbti sec xscale")
	ext12 = strings.Fields("bf16 crc crypto dotprod fp fp16 fp16fml i8mm idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nodotprod nofp nofp16 nofp16fml noidiv noiwmmxt noiwmmxt2 nomaverick nomp nopredres noras nordma nosb nosec nosimd novirt noxscale predres ras rdma sb sec simd virt xscale")
	ext13 = strings.Fields("crc crypto dotprod fp fp16 fp16fml i8mm idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nodotprod nofp nofp16 nofp16fml noidiv noiwmmxt noiwmmxt2 nomaverick nomp nopredres noras nordma nosb nosec nosimd novirt noxscale predres ras rdma sb sec simd virt xscale")
	ext14 = strings.Fields("crc crypto dotprod fp fp16 fp16fml idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nodotprod nofp nofp16 nofp16fml noidiv noiwmmxt noiwmmxt2 nomaverick nomp nopredres noras nordma nosb nosec nosimd novirt noxscale predres ras rdma sb sec simd virt xscale")
	ext15 = strings.Fields("iwmmxt iwmmxt2 maverick noiwmmxt noiwmmxt2 nomaverick nosec noxscale sec xscale")
	ext16 = strings.Fields("idiv iwmmxt iwmmxt2 maverick mp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nosec novirt noxscale sec virt xscale")
	ext17 = strings.Fields("dsp iwmmxt iwmmxt2 maverick nodsp noiwmmxt noiwmmxt2 nomaverick noos nosec noxscale os sec xscale")
	ext18 = strings.Fields("idiv iwmmxt iwmmxt2 maverick mp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nosec noxscale sec xscale")
	ext19 = strings.Fields("crc crypto fp idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nofp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nosec nosimd novirt noxscale sec simd virt xscale")
)

const (
	have0  = FeatHlt | FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatV6K | FeatHint | FeatSetend | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatSec | FeatWideB | FeatSVC
	have1  = FeatA32
	have2  = FeatA32 | FeatT16 | FeatSVC
	have3  = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatSVC
	have4  = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatSVC
	have5  = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatSetend | FeatSVC
	have6  = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatM | FeatBar | FeatWideB
	have7  = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatV6K | FeatSetend | FeatSVC
	have8  = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatV6K | FeatHint | FeatSetend | FeatCBZ | FeatT32 | FeatMovW | FeatWideB | FeatSVC
	have9  = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatWideB | FeatSVC
	have10 = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatV6K | FeatHint | FeatSetend | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatWideB | FeatSVC
	have11 = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatM | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatWideB | FeatSVC
	have12 = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatM | FeatBar | FeatCBZ | FeatMovW | FeatSec | FeatWideB | FeatSVC
	have13 = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatM | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatSec | FeatWideB | FeatSVC
)

var arches = []Target{
	{"all", have0, ext0},
	{"armv1", have1, ext1},
	{"armv2", have1, ext1},
	{"armv2a", have1, ext1},
	{"armv2s", have1, ext1},
	{"armv3", have1, ext1},
	{"armv3m", have1, ext1},
	{"armv4", have1, ext1},
	{"armv4t", have2, ext1},
	{"armv4txm", have2, ext1},
	{"armv4xm", have1, ext1},
	{"armv5", have1 | FeatV5, ext1},
	{"armv5t", have3, ext1},
	{"armv5te", have4, ext2},
	{"armv5tej", have4, ext2},
	{"armv5texp", have4, ext2},
	{"armv5txm", have3, ext1},
	{"armv6", have5, ext2},
	{"armv6-m", have6, ext3},
	{"armv6j", have5, ext2},
	{"armv6k", have7, ext4},
	{"armv6kt2", have8, ext4},
	{"armv6kz", have7, ext4},
	{"armv6kzt2", have8, ext4},
	{"armv6s-m", have6 | FeatSVC, ext3},
	{"armv6t2", have8, ext2},
	{"armv6z", have7, ext4},
	{"armv6zk", have7, ext4},
	{"armv6zkt2", have8, ext4},
	{"armv6zt2", have8, ext2},
	{"armv7", have9, ext4},
	{"armv7-a", have10, ext5},
	{"armv7-m", have11, ext3},
	{"armv7-r", have10, ext6},
	{"armv7a", have10, ext5},
	{"armv7e-m", have11, ext7},
	{"armv7m", have11, ext3},
	{"armv7r", have10, ext6},
	{"armv7ve", have10, ext5},
	{"armv8-a", have10 | FeatHlt, ext8},
	{"armv8-m.base", have12, ext3},
	{"armv8-m.main", have13, ext9},
	{"armv8-r", have10 | FeatHlt, ext10},
	{"armv8.1-a", have10 | FeatHlt, ext8},
	{"armv8.1-m.main", have13, ext11},
	{"armv8.2-a", have10 | FeatHlt, ext12},
	{"armv8.3-a", have10 | FeatHlt, ext12},
	{"armv8.4-a", have10 | FeatHlt, ext12},
	{"armv8.5-a", have10 | FeatHlt, ext12},
	{"armv8.6-a", have10 | FeatHlt, ext13},
	{"armv8.7-a", have10 | FeatHlt, ext13},
	{"armv8.8-a", have10 | FeatHlt, ext13},
	{"armv9-a", have10 | FeatHlt, ext12},
	{"armv9.1-a", have10 | FeatHlt, ext13},
	{"armv9.2-a", have10 | FeatHlt, ext13},
	{"armv9.3-a", have10 | FeatHlt, ext13},
	{"iwmmxt", have4, ext1},
	{"iwmmxt2", have4, ext1},
	{"xscale", have4, ext1},
}

var cpus = []Target{
	{"all", have0, ext0},
	{"ares", have10 | FeatHlt, ext14},
	{"arm1", have1, ext1},
	{"arm1020", have4, ext1},
	{"arm1020e", have4, ext1},
	{"arm1020t", have3, ext1},
	{"arm1022e", have4, ext1},
	{"arm1026ej-s", have4, ext1},
	{"arm1026ejs", have4, ext1},
	{"arm10e", have4, ext1},
	{"arm10t", have3, ext1},
	{"arm10tdmi", have3, ext1},
	{"arm1136j-s", have5, ext1},
	{"arm1136jf-s", have5, ext1},
	{"arm1136jfs", have5, ext1},
	{"arm1136js", have5, ext1},
	{"arm1156t2-s", have8, ext1},
	{"arm1156t2f-s", have8, ext1},
	{"arm1176jz-s", have7, ext15},
	{"arm1176jzf-s", have7, ext15},
	{"arm2", have1, ext1},
	{"arm250", have1, ext1},
	{"arm3", have1, ext1},
	{"arm6", have1, ext1},
	{"arm60", have1, ext1},
	{"arm600", have1, ext1},
	{"arm610", have1, ext1},
	{"arm620", have1, ext1},
	{"arm7", have1, ext1},
	{"arm70", have1, ext1},
	{"arm700", have1, ext1},
	{"arm700i", have1, ext1},
	{"arm710", have1, ext1},
	{"arm7100", have1, ext1},
	{"arm710c", have1, ext1},
	{"arm710t", have2, ext1},
	{"arm720", have1, ext1},
	{"arm720t", have2, ext1},
	{"arm740t", have2, ext1},
	{"arm7500", have1, ext1},
	{"arm7500fe", have1, ext1},
	{"arm7d", have1, ext1},
	{"arm7di", have1, ext1},
	{"arm7dm", have1, ext1},
	{"arm7dmi", have1, ext1},
	{"arm7m", have1, ext1},
	{"arm7t", have2, ext1},
	{"arm7tdmi", have2, ext1},
	{"arm7tdmi-s", have2, ext1},
	{"arm8", have1, ext1},
	{"arm810", have1, ext1},
	{"arm9", have2, ext1},
	{"arm920", have2, ext1},
	{"arm920t", have2, ext1},
	{"arm922t", have2, ext1},
	{"arm926ej", have4, ext1},
	{"arm926ej-s", have4, ext1},
	{"arm926ejs", have4, ext1},
	{"arm940t", have2, ext1},
	{"arm946e", have4, ext1},
	{"arm946e-r0", have4, ext1},
	{"arm946e-s", have4, ext1},
	{"arm966e", have4, ext1},
	{"arm966e-r0", have4, ext1},
	{"arm966e-s", have4, ext1},
	{"arm968e-s", have4, ext1},
	{"arm9e", have4, ext1},
	{"arm9e-r0", have4, ext1},
	{"arm9tdmi", have2, ext1},
	{"cortex-a12", have10, ext16},
	{"cortex-a15", have10, ext16},
	{"cortex-a17", have10, ext16},
	{"cortex-a32", have10 | FeatHlt, ext8},
	{"cortex-a35", have10 | FeatHlt, ext8},
	{"cortex-a5", have10, ext16},
	{"cortex-a53", have10 | FeatHlt, ext8},
	{"cortex-a55", have10 | FeatHlt, ext14},
	{"cortex-a57", have10 | FeatHlt, ext8},
	{"cortex-a7", have10, ext16},
	{"cortex-a710", have10 | FeatHlt, ext14},
	{"cortex-a72", have10 | FeatHlt, ext8},
	{"cortex-a73", have10 | FeatHlt, ext8},
	{"cortex-a75", have10 | FeatHlt, ext14},
	{"cortex-a76", have10 | FeatHlt, ext14},
	{"cortex-a76ae", have10 | FeatHlt, ext14},
	{"cortex-a77", have10 | FeatHlt, ext14},
	{"cortex-a78", have10 | FeatHlt, ext14},
	{"cortex-a78ae", have10 | FeatHlt, ext14},
	{"cortex-a78c", have10 | FeatHlt, ext14},
	{"cortex-a8", have10, ext16},
	{"cortex-a9", have10, ext16},
	{"cortex-m0", have6 | FeatSVC, ext3},
	{"cortex-m0plus", have6 | FeatSVC, ext3},
	{"cortex-m1", have6 | FeatSVC, ext3},
	{"cortex-m23", have12, ext3},
	{"cortex-m3", have11, ext3},
	{"cortex-m33", have13, ext17},
	{"cortex-m35p", have13, ext17},
	{"cortex-m4", have11, ext3},
	{"cortex-m7", have11, ext3},
	{"cortex-r4", have10, ext18},
	{"cortex-r4f", have10, ext18},
	{"cortex-r5", have10, ext18},
	{"cortex-r52", have10 | FeatHlt, ext19},
	{"cortex-r52plus", have10 | FeatHlt, ext19},
	{"cortex-r7", have10, ext18},
	{"cortex-r8", have10, ext18},
	{"cortex-x1", have10 | FeatHlt, ext14},
	{"cortex-x1c", have10 | FeatHlt, ext14},
	{"ep9312", have2, ext1},
	{"exynos-m1", have10 | FeatHlt, ext8},
	{"fa526", have1, ext1},
	{"fa606te", have4, ext1},
	{"fa616te", have4, ext1},
	{"fa626", have1, ext1},
	{"fa626te", have4, ext1},
	{"fa726te", have4, ext1},
	{"fmp626", have4, ext1},
	{"i80200", have4, ext1},
	{"iwmmxt", have4, ext1},
	{"iwmmxt2", have4, ext1},
	{"marvell-pj4", have10, ext16},
	{"marvell-whitney", have10, ext16},
	{"mpcore", have7, ext15},
	{"mpcorenovfp", have7, ext15},
	{"neoverse-n1", have10 | FeatHlt, ext14},
	{"neoverse-n2", have10 | FeatHlt, ext14},
	{"neoverse-v1", have10 | FeatHlt, ext14},
	{"strongarm", have1, ext1},
	{"strongarm1", have1, ext1},
	{"strongarm110", have1, ext1},
	{"strongarm1100", have1, ext1},
	{"strongarm1110", have1, ext1},
	{"xgene1", have10 | FeatHlt, ext8},
	{"xgene2", have10 | FeatHlt, ext8},
	{"xscale", have4, ext1},
}

var fpus = []Target{
	{Name: "arm1020e"},
	{Name: "arm1020t"},
	{Name: "arm1136jf-s"},
	{Name: "arm1136jfs"},
	{Name: "arm7500fe"},
	{Name: "crypto-neon-fp-armv8"},
	{Name: "crypto-neon-fp-armv8.1"},
	{Name: "fp-armv8"},
	{Name: "fpa"},
	{Name: "fpa10"},
	{Name: "fpa11"},
	{Name: "fpe"},
	{Name: "fpe2"},
	{Name: "fpe3"},
	{Name: "fpv4-sp-d16"},
	{Name: "fpv5-d16"},
	{Name: "fpv5-sp-d16"},
	{Name: "maverick"},
	{Name: "neon"},
	{Name: "neon-fp-armv8"},
	{Name: "neon-fp-armv8.1"},
	{Name: "neon-fp16"},
	{Name: "neon-vfpv3"},
	{Name: "neon-vfpv4"},
	{Name: "softfpa"},
	{Name: "softvfp"},
	{Name: "softvfp+vfp"},
	{Name: "vfp"},
	{Name: "vfp10"},
	{Name: "vfp10-r0"},
	{Name: "vfp3"},
	{Name: "vfp9"},
	{Name: "vfpv2"},
	{Name: "vfpv3"},
	{Name: "vfpv3-d16"},
	{Name: "vfpv3-d16-fp16"},
	{Name: "vfpv3-fp16"},
	{Name: "vfpv3xd"},
	{Name: "vfpv3xd-fp16"},
	{Name: "vfpv4"},
	{Name: "vfpv4-d16"},
	{Name: "vfpxd"},
}
