package isa

import "strings"

// The names that assemblers take after -march, -mcpu and -mfpu, with what
// each brings to Thumb state. TestTargets compares names, extensions
// and features with the reference assembler. Where that assembler takes an
// instruction that the manual does not give the architecture, the manual
// decides: no SETEND on M profile (DDI 0403 and 0419), HLT from ARMv8 on
// (DDI 0487), T16 hints from ARMv6T2 and ARMv6-M on (DDI 0406, "NOP"), and BL
// reaches 16 MB on ARMv6-M too (DDI 0419, "BL"). The test lists each such case.
//
// No target has a floating-point unit by its name, not even a core that
// always comes with one: the reference assembler wants a unit or an extension
// named. The features that need a register file beside (FeatFP16, FeatFML,
// FeatDot, FeatCplx, FeatBF16, FeatI8MM) are listed with the architecture that
// brings them; a row needs FeatVFP, FeatFPv8 or FeatNEONv8 as well.

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
	have0  = FeatHlt | FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatV6K | FeatHint | FeatSetend | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatSec | FeatWideB | FeatSVC | FeatDSP | FeatDivT | FeatDivA | FeatExT | FeatMP | FeatSMC | FeatVirt | FeatLDA | FeatV8 | FeatCRC | FeatPAN | FeatRAS | FeatSB | FeatV81M | FeatFP16 | FeatFML | FeatCplx | FeatBF16 | FeatI8MM
	have1  = FeatA32
	have2  = FeatA32 | FeatT16 | FeatSVC
	have3  = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatSVC
	have4  = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatSVC
	have5  = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatSetend | FeatSVC
	have6  = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatM | FeatBar | FeatWideB
	have7  = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatV6K | FeatSetend | FeatSVC
	have8  = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatV6K | FeatHint | FeatSetend | FeatCBZ | FeatT32 | FeatMovW | FeatWideB | FeatSVC | FeatDSP | FeatExT
	have9  = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatWideB | FeatSVC | FeatExT
	have10 = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatV6K | FeatHint | FeatSetend | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatWideB | FeatSVC | FeatDSP | FeatExT
	have11 = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatM | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatWideB | FeatSVC | FeatDivT | FeatExT
	have12 = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatM | FeatBar | FeatCBZ | FeatMovW | FeatSec | FeatWideB | FeatSVC | FeatDivT | FeatExT | FeatLDA
	have13 = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatM | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatSec | FeatWideB | FeatSVC | FeatDivT | FeatExT | FeatLDA

	haveV6Z   = have7 | FeatSMC
	haveV6ZT2 = have8 | FeatSMC
	haveV7R   = have10 | FeatDivT
	haveV7Sec = have10 | FeatSMC
	haveV7MP  = haveV7Sec | FeatMP
	haveV7VE  = haveV7MP | FeatDivT | FeatDivA | FeatVirt
	haveV8A   = haveV7VE | FeatHlt | FeatLDA | FeatV8
	haveV8CRC = haveV8A | FeatCRC
	haveV81A  = haveV8CRC | FeatPAN
	haveV82A  = haveV81A | FeatRAS
	haveV83A  = haveV82A | FeatCplx
	haveV84A  = haveV83A | FeatDot
	haveV85A  = haveV84A | FeatSB
	haveV86A  = haveV85A | FeatBF16
)

// What the floating-point units have. Half precision is an option of VFPv3 that
// the reference assembler takes from every unit; here, from VFPv3 on (DDI 0406,
// "VCVTB, VCVTT").
const (
	fpVFP1     = FeatVFP
	fpVFP2     = fpVFP1 | FeatVFPD | FeatVFP2
	fpVFP3SP   = FeatVFP | FeatVFP2 | FeatVFP3 | FeatHalf
	fpVFP3D16  = fpVFP3SP | FeatVFPD
	fpVFP3     = fpVFP3D16 | FeatD32
	fpVFP4SP   = fpVFP3SP | FeatFMA
	fpVFP4D16  = fpVFP3D16 | FeatFMA
	fpVFP4     = fpVFP3 | FeatFMA
	fpV5SP     = fpVFP4SP | FeatFPv8
	fpV5D16    = fpVFP4D16 | FeatFPv8
	fpV8       = fpVFP4 | FeatFPv8
	fpNEON     = fpVFP3 | FeatNEON
	fpNEON4    = fpVFP4 | FeatNEON | FeatNEONFMA
	fpNEON8    = fpV8 | FeatNEON | FeatNEONFMA | FeatNEONv8
	fpCrypto   = fpNEON8 | FeatCrypto
	fpNEON81   = fpNEON8 | FeatNEON81
	fpCrypto81 = fpNEON81 | FeatCrypto

	fpAny = fpCrypto81 // everything that a floating-point unit brings by its name
)

var arches = []Target{
	{"all", have0, 0, ext0},
	{"armv1", have1, 0, ext1},
	{"armv2", have1, 0, ext1},
	{"armv2a", have1, 0, ext1},
	{"armv2s", have1, 0, ext1},
	{"armv3", have1, 0, ext1},
	{"armv3m", have1, 0, ext1},
	{"armv4", have1, 0, ext1},
	{"armv4t", have2, 0, ext1},
	{"armv4txm", have2, 0, ext1},
	{"armv4xm", have1, 0, ext1},
	{"armv5", have1 | FeatV5, 0, ext1},
	{"armv5t", have3, 0, ext1},
	{"armv5te", have4, 0, ext2},
	{"armv5tej", have4, 0, ext2},
	{"armv5texp", have4, 0, ext2},
	{"armv5txm", have3, 0, ext1},
	{"armv6", have5, 0, ext2},
	{"armv6-m", have6, 0, ext3},
	{"armv6j", have5, 0, ext2},
	{"armv6k", have7, 0, ext4},
	{"armv6kt2", have8, 0, ext4},
	{"armv6kz", haveV6Z, 0, ext4},
	{"armv6kzt2", haveV6ZT2, 0, ext4},
	{"armv6s-m", have6 | FeatSVC, 0, ext3},
	{"armv6t2", have8, 0, ext2},
	{"armv6z", haveV6Z, 0, ext4},
	{"armv6zk", haveV6Z, 0, ext4},
	{"armv6zkt2", haveV6ZT2, 0, ext4},
	{"armv6zt2", haveV6ZT2, 0, ext2},
	{"armv7", have9, 0, ext4},
	{"armv7-a", have10, 0, ext5},
	{"armv7-m", have11, 0, ext3},
	{"armv7-r", haveV7R, 0, ext6},
	{"armv7a", have10, 0, ext5},
	{"armv7e-m", have11 | FeatDSP, 0, ext7},
	{"armv7m", have11, 0, ext3},
	{"armv7r", haveV7R, 0, ext6},
	{"armv7ve", haveV7VE, 0, ext5},
	{"armv8-a", haveV8A, 0, ext8},
	{"armv8-m.base", have12, 0, ext3},
	{"armv8-m.main", have13, 0, ext9},
	{"armv8-r", haveV8A, 0, ext10},
	{"armv8.1-a", haveV81A, 0, ext8},
	{"armv8.1-m.main", have13 | FeatFP16 | FeatV81M, 0, ext11},
	{"armv8.2-a", haveV82A, 0, ext12},
	{"armv8.3-a", haveV83A, 0, ext12},
	{"armv8.4-a", haveV84A, 0, ext12},
	{"armv8.5-a", haveV85A, 0, ext12},
	{"armv8.6-a", haveV86A, 0, ext13},
	{"armv8.7-a", haveV86A, 0, ext13},
	{"armv8.8-a", haveV86A, 0, ext13},
	{"armv9-a", haveV85A, 0, ext12},
	{"armv9.1-a", haveV86A, 0, ext13},
	{"armv9.2-a", haveV86A, 0, ext13},
	{"armv9.3-a", haveV86A, 0, ext13},
	{"iwmmxt", have4, 0, ext1},
	{"iwmmxt2", have4, 0, ext1},
	{"xscale", have4, 0, ext1},
}

var cpus = []Target{
	{"all", have0, 0, ext0},
	{"ares", haveV82A | FeatFP16, FeatFP16, ext14},
	{"arm1", have1, 0, ext1},
	{"arm1020", have4, 0, ext1},
	{"arm1020e", have4, 0, ext1},
	{"arm1020t", have3, 0, ext1},
	{"arm1022e", have4, 0, ext1},
	{"arm1026ej-s", have4, 0, ext1},
	{"arm1026ejs", have4, 0, ext1},
	{"arm10e", have4, 0, ext1},
	{"arm10t", have3, 0, ext1},
	{"arm10tdmi", have3, 0, ext1},
	{"arm1136j-s", have5, 0, ext1},
	{"arm1136jf-s", have5, 0, ext1},
	{"arm1136jfs", have5, 0, ext1},
	{"arm1136js", have5, 0, ext1},
	{"arm1156t2-s", have8, 0, ext1},
	{"arm1156t2f-s", have8, 0, ext1},
	{"arm1176jz-s", haveV6Z, 0, ext15},
	{"arm1176jzf-s", haveV6Z, 0, ext15},
	{"arm2", have1, 0, ext1},
	{"arm250", have1, 0, ext1},
	{"arm3", have1, 0, ext1},
	{"arm6", have1, 0, ext1},
	{"arm60", have1, 0, ext1},
	{"arm600", have1, 0, ext1},
	{"arm610", have1, 0, ext1},
	{"arm620", have1, 0, ext1},
	{"arm7", have1, 0, ext1},
	{"arm70", have1, 0, ext1},
	{"arm700", have1, 0, ext1},
	{"arm700i", have1, 0, ext1},
	{"arm710", have1, 0, ext1},
	{"arm7100", have1, 0, ext1},
	{"arm710c", have1, 0, ext1},
	{"arm710t", have2, 0, ext1},
	{"arm720", have1, 0, ext1},
	{"arm720t", have2, 0, ext1},
	{"arm740t", have2, 0, ext1},
	{"arm7500", have1, 0, ext1},
	{"arm7500fe", have1, 0, ext1},
	{"arm7d", have1, 0, ext1},
	{"arm7di", have1, 0, ext1},
	{"arm7dm", have1, 0, ext1},
	{"arm7dmi", have1, 0, ext1},
	{"arm7m", have1, 0, ext1},
	{"arm7t", have2, 0, ext1},
	{"arm7tdmi", have2, 0, ext1},
	{"arm7tdmi-s", have2, 0, ext1},
	{"arm8", have1, 0, ext1},
	{"arm810", have1, 0, ext1},
	{"arm9", have2, 0, ext1},
	{"arm920", have2, 0, ext1},
	{"arm920t", have2, 0, ext1},
	{"arm922t", have2, 0, ext1},
	{"arm926ej", have4, 0, ext1},
	{"arm926ej-s", have4, 0, ext1},
	{"arm926ejs", have4, 0, ext1},
	{"arm940t", have2, 0, ext1},
	{"arm946e", have4, 0, ext1},
	{"arm946e-r0", have4, 0, ext1},
	{"arm946e-s", have4, 0, ext1},
	{"arm966e", have4, 0, ext1},
	{"arm966e-r0", have4, 0, ext1},
	{"arm966e-s", have4, 0, ext1},
	{"arm968e-s", have4, 0, ext1},
	{"arm9e", have4, 0, ext1},
	{"arm9e-r0", have4, 0, ext1},
	{"arm9tdmi", have2, 0, ext1},
	{"cortex-a12", haveV7VE, 0, ext16},
	{"cortex-a15", haveV7VE, 0, ext16},
	{"cortex-a17", haveV7VE, 0, ext16},
	{"cortex-a32", haveV8CRC, FeatCRC, ext8},
	{"cortex-a35", haveV8CRC, FeatCRC, ext8},
	{"cortex-a5", haveV7MP, FeatMP | FeatSMC, ext16},
	{"cortex-a53", haveV8CRC, FeatCRC, ext8},
	{"cortex-a55", haveV82A | FeatFP16, FeatFP16, ext14},
	{"cortex-a57", haveV8CRC, FeatCRC, ext8},
	{"cortex-a7", haveV7VE, 0, ext16},
	{"cortex-a710", haveV86A | FeatFML | FeatFP16 | FeatI8MM, FeatFP16 | FeatFML, ext14},
	{"cortex-a72", haveV8CRC, FeatCRC, ext8},
	{"cortex-a73", haveV8CRC, FeatCRC, ext8},
	{"cortex-a75", haveV82A | FeatFP16, FeatFP16, ext14},
	{"cortex-a76", haveV82A | FeatFP16, FeatFP16, ext14},
	{"cortex-a76ae", haveV82A | FeatFP16, FeatFP16, ext14},
	{"cortex-a77", haveV82A | FeatFP16, FeatFP16, ext14},
	{"cortex-a78", haveV82A | FeatFP16 | FeatSB, FeatSB | FeatFP16, ext14},
	{"cortex-a78ae", haveV82A | FeatFP16 | FeatSB, FeatSB | FeatFP16, ext14},
	{"cortex-a78c", haveV82A | FeatFP16 | FeatSB, FeatSB | FeatFP16, ext14},
	{"cortex-a8", haveV7Sec, FeatSMC, ext16},
	{"cortex-a9", haveV7MP, FeatMP | FeatSMC, ext16},
	{"cortex-m0", have6 | FeatSVC, 0, ext3},
	{"cortex-m0plus", have6 | FeatSVC, 0, ext3},
	{"cortex-m1", have6 | FeatSVC, 0, ext3},
	{"cortex-m23", have12, 0, ext3},
	{"cortex-m3", have11, 0, ext3},
	{"cortex-m33", have13 | FeatDSP, FeatDSP, ext17},
	{"cortex-m35p", have13 | FeatDSP, FeatDSP, ext17},
	{"cortex-m4", have11 | FeatDSP, 0, ext3},
	{"cortex-m7", have11 | FeatDSP, 0, ext3},
	{"cortex-r4", haveV7R, 0, ext18},
	{"cortex-r4f", haveV7R, 0, ext18},
	{"cortex-r5", haveV7R | FeatDivA, FeatDivA, ext18},
	{"cortex-r52", haveV8CRC, FeatCRC, ext19},
	{"cortex-r52plus", haveV8CRC, FeatCRC, ext19},
	{"cortex-r7", haveV7R | FeatDivA, FeatDivA, ext18},
	{"cortex-r8", haveV7R | FeatDivA, FeatDivA, ext18},
	{"cortex-x1", haveV82A | FeatFP16 | FeatSB, FeatSB | FeatFP16, ext14},
	{"cortex-x1c", haveV82A | FeatFP16 | FeatSB, FeatSB | FeatFP16, ext14},
	{"ep9312", have2, 0, ext1},
	{"exynos-m1", haveV8CRC, FeatCRC, ext8},
	{"fa526", have1, 0, ext1},
	{"fa606te", have4, 0, ext1},
	{"fa616te", have4, 0, ext1},
	{"fa626", have1, 0, ext1},
	{"fa626te", have4, 0, ext1},
	{"fa726te", have4, 0, ext1},
	{"fmp626", have4, 0, ext1},
	{"i80200", have4, 0, ext1},
	{"iwmmxt", have4, 0, ext1},
	{"iwmmxt2", have4, 0, ext1},
	{"marvell-pj4", haveV7MP, FeatMP | FeatSMC, ext16},
	{"marvell-whitney", haveV7MP, FeatMP | FeatSMC, ext16},
	{"mpcore", have7, 0, ext15},
	{"mpcorenovfp", have7, 0, ext15},
	{"neoverse-n1", haveV82A | FeatFP16, FeatFP16, ext14},
	{"neoverse-n2", haveV86A | FeatFML | FeatFP16 | FeatI8MM, FeatFP16 | FeatFML, ext14},
	{"neoverse-v1", haveV84A | FeatBF16 | FeatFML | FeatFP16 | FeatI8MM, FeatFP16 | FeatFML, ext14},
	{"strongarm", have1, 0, ext1},
	{"strongarm1", have1, 0, ext1},
	{"strongarm110", have1, 0, ext1},
	{"strongarm1100", have1, 0, ext1},
	{"strongarm1110", have1, 0, ext1},
	{"xgene1", haveV8A, 0, ext8},
	{"xgene2", haveV8CRC, FeatCRC, ext8},
	{"xscale", have4, 0, ext1},
}

var fpus = []Target{
	{Name: "arm1020e", Have: fpVFP2},
	{Name: "arm1020t", Have: fpVFP1},
	{Name: "arm1136jf-s", Have: fpVFP2},
	{Name: "arm1136jfs", Have: fpVFP2},
	{Name: "arm7500fe"},
	{Name: "crypto-neon-fp-armv8", Have: fpCrypto},
	{Name: "crypto-neon-fp-armv8.1", Have: fpCrypto81},
	{Name: "fp-armv8", Have: fpV8},
	{Name: "fpa"},
	{Name: "fpa10"},
	{Name: "fpa11"},
	{Name: "fpe"},
	{Name: "fpe2"},
	{Name: "fpe3"},
	{Name: "fpv4-sp-d16", Have: fpVFP4SP},
	{Name: "fpv5-d16", Have: fpV5D16},
	{Name: "fpv5-sp-d16", Have: fpV5SP},
	{Name: "maverick"},
	{Name: "neon", Have: fpNEON},
	{Name: "neon-fp-armv8", Have: fpNEON8},
	{Name: "neon-fp-armv8.1", Have: fpNEON81},
	{Name: "neon-fp16", Have: fpNEON},
	{Name: "neon-vfpv3", Have: fpNEON},
	{Name: "neon-vfpv4", Have: fpNEON4},
	{Name: "softfpa"},
	{Name: "softvfp"},
	{Name: "softvfp+vfp", Have: fpVFP2},
	{Name: "vfp", Have: fpVFP2},
	{Name: "vfp10", Have: fpVFP2},
	{Name: "vfp10-r0", Have: fpVFP1},
	{Name: "vfp3", Have: fpVFP3},
	{Name: "vfp9", Have: fpVFP2},
	{Name: "vfpv2", Have: fpVFP2},
	{Name: "vfpv3", Have: fpVFP3},
	{Name: "vfpv3-d16", Have: fpVFP3D16},
	{Name: "vfpv3-d16-fp16", Have: fpVFP3D16},
	{Name: "vfpv3-fp16", Have: fpVFP3},
	{Name: "vfpv3xd", Have: fpVFP3SP},
	{Name: "vfpv3xd-fp16", Have: fpVFP3SP},
	{Name: "vfpv4", Have: fpVFP4},
	{Name: "vfpv4-d16", Have: fpVFP4D16},
	{Name: "vfpxd", Have: fpVFP1},
}
