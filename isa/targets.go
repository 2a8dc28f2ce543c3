package isa

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

const (
	extAll        = "crc crypto dsp fp idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nodsp nofp noidiv noiwmmxt noiwmmxt2 nomaverick nomp noos nopredres noras nordma nosb nosec nosimd novirt noxscale os predres ras rdma sb sec simd virt xscale"
	extV1         = "iwmmxt iwmmxt2 maverick noiwmmxt noiwmmxt2 nomaverick noxscale xscale"
	extV5TE       = "fp iwmmxt iwmmxt2 maverick nofp noiwmmxt noiwmmxt2 nomaverick noxscale xscale"
	extV6M        = "iwmmxt iwmmxt2 maverick noiwmmxt noiwmmxt2 nomaverick noos nosec noxscale os sec xscale"
	extV6K        = "fp iwmmxt iwmmxt2 maverick nofp noiwmmxt noiwmmxt2 nomaverick nosec noxscale sec xscale"
	extV7A        = "fp idiv iwmmxt iwmmxt2 maverick mp neon neon-fp16 neon-vfpv3 neon-vfpv4 nofp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nosec nosimd novirt noxscale sec simd vfpv3 vfpv3-d16 vfpv3-d16-fp16 vfpv3-fp16 vfpv4 vfpv4-d16 virt xscale"
	extV7R        = "fp fp.sp idiv iwmmxt iwmmxt2 maverick mp nofp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nosec noxscale sec vfpv3-d16 vfpv3-d16-fp16 vfpv3xd vfpv3xd-fp16 xscale"
	extV7EM       = "fp fp.dp fpv5 fpv5-d16 iwmmxt iwmmxt2 maverick nofp noiwmmxt noiwmmxt2 nomaverick noos nosec noxscale os sec vfpv4-sp-d16 xscale"
	extV8A        = "crc crypto fp idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nofp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nopredres noras nordma nosb nosec nosimd novirt noxscale predres ras rdma sb sec simd virt xscale"
	extV8MMain    = "cdecp0 cdecp1 cdecp2 cdecp3 cdecp4 cdecp5 cdecp6 cdecp7 dsp fp fp.dp iwmmxt iwmmxt2 maverick nodsp nofp noiwmmxt noiwmmxt2 nomaverick noos nosec noxscale os sec xscale"
	extV8R        = "crc crypto fp fp.sp idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nofp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nosec nosimd novirt noxscale sec simd virt xscale"
	extV81M       = "cdecp0 cdecp1 cdecp2 cdecp3 cdecp4 cdecp5 cdecp6 cdecp7 dsp fp fp.dp iwmmxt iwmmxt2 maverick mve mve.fp nodsp nofp noiwmmxt noiwmmxt2 nomaverick nomve noos nosec noxscale os pacbti sec xscale"
	extV82A       = "bf16 crc crypto dotprod fp fp16 fp16fml i8mm idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nodotprod nofp nofp16 nofp16fml noidiv noiwmmxt noiwmmxt2 nomaverick nomp nopredres noras nordma nosb nosec nosimd novirt noxscale predres ras rdma sb sec simd virt xscale"
	extV86A       = "crc crypto dotprod fp fp16 fp16fml i8mm idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nodotprod nofp nofp16 nofp16fml noidiv noiwmmxt noiwmmxt2 nomaverick nomp nopredres noras nordma nosb nosec nosimd novirt noxscale predres ras rdma sb sec simd virt xscale"
	extCortexV82A = "crc crypto dotprod fp fp16 fp16fml idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nodotprod nofp nofp16 nofp16fml noidiv noiwmmxt noiwmmxt2 nomaverick nomp nopredres noras nordma nosb nosec nosimd novirt noxscale predres ras rdma sb sec simd virt xscale"
	extARM1176    = "iwmmxt iwmmxt2 maverick noiwmmxt noiwmmxt2 nomaverick nosec noxscale sec xscale"
	extCortexV7A  = "idiv iwmmxt iwmmxt2 maverick mp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nosec novirt noxscale sec virt xscale"
	extCortexV8M  = "dsp iwmmxt iwmmxt2 maverick nodsp noiwmmxt noiwmmxt2 nomaverick noos nosec noxscale os sec xscale"
	extCortexR    = "idiv iwmmxt iwmmxt2 maverick mp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nosec noxscale sec xscale"
	extCortexR52  = "crc crypto fp idiv iwmmxt iwmmxt2 maverick mp nocrc nocrypto nofp noidiv noiwmmxt noiwmmxt2 nomaverick nomp nosec nosimd novirt noxscale sec simd virt xscale"
)

const (
	haveAll     = FeatHlt | FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatV6K | FeatHint | FeatSetend | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatSec | FeatWideB | FeatSVC | FeatDSP | FeatDivThumb | FeatDivA32 | FeatExclusiveThumb | FeatMP | FeatSMC | FeatVirt | FeatLDA | FeatV8 | FeatCRC | FeatPAN | FeatRAS | FeatSB | FeatV81M | FeatFP16 | FeatFML | FeatCplx | FeatBF16 | FeatI8MM | FeatV8R
	haveV1      = FeatA32
	haveV4T     = FeatA32 | FeatT16 | FeatSVC
	haveV5T     = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatSVC
	haveV5TE    = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatSVC
	haveV6      = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatSetend | FeatSVC
	haveV6M     = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatM | FeatBar | FeatWideB
	haveV6K     = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatV6K | FeatSetend | FeatSVC
	haveV6T2    = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatV6K | FeatHint | FeatSetend | FeatCBZ | FeatT32 | FeatMovW | FeatWideB | FeatSVC | FeatDSP | FeatExclusiveThumb
	haveV7      = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatWideB | FeatSVC | FeatExclusiveThumb
	haveV7A     = FeatA32 | FeatT16 | FeatV5 | FeatV5T | FeatV5TE | FeatV6 | FeatV6K | FeatHint | FeatSetend | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatWideB | FeatSVC | FeatDSP | FeatExclusiveThumb
	haveV7M     = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatM | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatWideB | FeatSVC | FeatDivThumb | FeatExclusiveThumb
	haveV8MBase = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatM | FeatBar | FeatCBZ | FeatMovW | FeatSec | FeatWideB | FeatSVC | FeatDivThumb | FeatExclusiveThumb | FeatLDA
	haveV8MMain = FeatT16 | FeatV5 | FeatV5T | FeatV6 | FeatHint | FeatM | FeatBar | FeatCBZ | FeatT32 | FeatMovW | FeatSec | FeatWideB | FeatSVC | FeatDivThumb | FeatExclusiveThumb | FeatLDA

	haveV6Z   = haveV6K | FeatSMC
	haveV6ZT2 = haveV6T2 | FeatSMC
	haveV7R   = haveV7A | FeatDivThumb
	haveV7Sec = haveV7A | FeatSMC
	haveV7MP  = haveV7Sec | FeatMP
	haveV7VE  = haveV7MP | FeatDivThumb | FeatDivA32 | FeatVirt
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
	{"all", haveAll, 0, extAll},
	{"armv1", haveV1, 0, extV1},
	{"armv2", haveV1, 0, extV1},
	{"armv2a", haveV1, 0, extV1},
	{"armv2s", haveV1, 0, extV1},
	{"armv3", haveV1, 0, extV1},
	{"armv3m", haveV1, 0, extV1},
	{"armv4", haveV1, 0, extV1},
	{"armv4t", haveV4T, 0, extV1},
	{"armv4txm", haveV4T, 0, extV1},
	{"armv4xm", haveV1, 0, extV1},
	{"armv5", haveV1 | FeatV5, 0, extV1},
	{"armv5t", haveV5T, 0, extV1},
	{"armv5te", haveV5TE, 0, extV5TE},
	{"armv5tej", haveV5TE, 0, extV5TE},
	{"armv5texp", haveV5TE, 0, extV5TE},
	{"armv5txm", haveV5T, 0, extV1},
	{"armv6", haveV6, 0, extV5TE},
	{"armv6-m", haveV6M, 0, extV6M},
	{"armv6j", haveV6, 0, extV5TE},
	{"armv6k", haveV6K, 0, extV6K},
	{"armv6kt2", haveV6T2, 0, extV6K},
	{"armv6kz", haveV6Z, 0, extV6K},
	{"armv6kzt2", haveV6ZT2, 0, extV6K},
	{"armv6s-m", haveV6M | FeatSVC, 0, extV6M},
	{"armv6t2", haveV6T2, 0, extV5TE},
	{"armv6z", haveV6Z, 0, extV6K},
	{"armv6zk", haveV6Z, 0, extV6K},
	{"armv6zkt2", haveV6ZT2, 0, extV6K},
	{"armv6zt2", haveV6ZT2, 0, extV5TE},
	{"armv7", haveV7, 0, extV6K},
	{"armv7-a", haveV7A, 0, extV7A},
	{"armv7-m", haveV7M, 0, extV6M},
	{"armv7-r", haveV7R, 0, extV7R},
	{"armv7a", haveV7A, 0, extV7A},
	{"armv7e-m", haveV7M | FeatDSP, 0, extV7EM},
	{"armv7m", haveV7M, 0, extV6M},
	{"armv7r", haveV7R, 0, extV7R},
	{"armv7ve", haveV7VE, 0, extV7A},
	{"armv8-a", haveV8A, 0, extV8A},
	{"armv8-m.base", haveV8MBase, 0, extV6M},
	{"armv8-m.main", haveV8MMain, 0, extV8MMain},
	{"armv8-r", haveV8A | FeatV8R, 0, extV8R},
	{"armv8.1-a", haveV81A, 0, extV8A},
	{"armv8.1-m.main", haveV8MMain | FeatFP16 | FeatV81M, 0, extV81M},
	{"armv8.2-a", haveV82A, 0, extV82A},
	{"armv8.3-a", haveV83A, 0, extV82A},
	{"armv8.4-a", haveV84A, 0, extV82A},
	{"armv8.5-a", haveV85A, 0, extV82A},
	{"armv8.6-a", haveV86A, 0, extV86A},
	{"armv8.7-a", haveV86A, 0, extV86A},
	{"armv8.8-a", haveV86A, 0, extV86A},
	{"armv9-a", haveV85A, 0, extV82A},
	{"armv9.1-a", haveV86A, 0, extV86A},
	{"armv9.2-a", haveV86A, 0, extV86A},
	{"armv9.3-a", haveV86A, 0, extV86A},
	{"iwmmxt", haveV5TE, 0, extV1},
	{"iwmmxt2", haveV5TE, 0, extV1},
	{"xscale", haveV5TE, 0, extV1},
}

var cpus = []Target{
	{"all", haveAll, 0, extAll},
	{"ares", haveV82A | FeatFP16, FeatFP16, extCortexV82A},
	{"arm1", haveV1, 0, extV1},
	{"arm1020", haveV5TE, 0, extV1},
	{"arm1020e", haveV5TE, 0, extV1},
	{"arm1020t", haveV5T, 0, extV1},
	{"arm1022e", haveV5TE, 0, extV1},
	{"arm1026ej-s", haveV5TE, 0, extV1},
	{"arm1026ejs", haveV5TE, 0, extV1},
	{"arm10e", haveV5TE, 0, extV1},
	{"arm10t", haveV5T, 0, extV1},
	{"arm10tdmi", haveV5T, 0, extV1},
	{"arm1136j-s", haveV6, 0, extV1},
	{"arm1136jf-s", haveV6, 0, extV1},
	{"arm1136jfs", haveV6, 0, extV1},
	{"arm1136js", haveV6, 0, extV1},
	{"arm1156t2-s", haveV6T2, 0, extV1},
	{"arm1156t2f-s", haveV6T2, 0, extV1},
	{"arm1176jz-s", haveV6Z, 0, extARM1176},
	{"arm1176jzf-s", haveV6Z, 0, extARM1176},
	{"arm2", haveV1, 0, extV1},
	{"arm250", haveV1, 0, extV1},
	{"arm3", haveV1, 0, extV1},
	{"arm6", haveV1, 0, extV1},
	{"arm60", haveV1, 0, extV1},
	{"arm600", haveV1, 0, extV1},
	{"arm610", haveV1, 0, extV1},
	{"arm620", haveV1, 0, extV1},
	{"arm7", haveV1, 0, extV1},
	{"arm70", haveV1, 0, extV1},
	{"arm700", haveV1, 0, extV1},
	{"arm700i", haveV1, 0, extV1},
	{"arm710", haveV1, 0, extV1},
	{"arm7100", haveV1, 0, extV1},
	{"arm710c", haveV1, 0, extV1},
	{"arm710t", haveV4T, 0, extV1},
	{"arm720", haveV1, 0, extV1},
	{"arm720t", haveV4T, 0, extV1},
	{"arm740t", haveV4T, 0, extV1},
	{"arm7500", haveV1, 0, extV1},
	{"arm7500fe", haveV1, 0, extV1},
	{"arm7d", haveV1, 0, extV1},
	{"arm7di", haveV1, 0, extV1},
	{"arm7dm", haveV1, 0, extV1},
	{"arm7dmi", haveV1, 0, extV1},
	{"arm7m", haveV1, 0, extV1},
	{"arm7t", haveV4T, 0, extV1},
	{"arm7tdmi", haveV4T, 0, extV1},
	{"arm7tdmi-s", haveV4T, 0, extV1},
	{"arm8", haveV1, 0, extV1},
	{"arm810", haveV1, 0, extV1},
	{"arm9", haveV4T, 0, extV1},
	{"arm920", haveV4T, 0, extV1},
	{"arm920t", haveV4T, 0, extV1},
	{"arm922t", haveV4T, 0, extV1},
	{"arm926ej", haveV5TE, 0, extV1},
	{"arm926ej-s", haveV5TE, 0, extV1},
	{"arm926ejs", haveV5TE, 0, extV1},
	{"arm940t", haveV4T, 0, extV1},
	{"arm946e", haveV5TE, 0, extV1},
	{"arm946e-r0", haveV5TE, 0, extV1},
	{"arm946e-s", haveV5TE, 0, extV1},
	{"arm966e", haveV5TE, 0, extV1},
	{"arm966e-r0", haveV5TE, 0, extV1},
	{"arm966e-s", haveV5TE, 0, extV1},
	{"arm968e-s", haveV5TE, 0, extV1},
	{"arm9e", haveV5TE, 0, extV1},
	{"arm9e-r0", haveV5TE, 0, extV1},
	{"arm9tdmi", haveV4T, 0, extV1},
	{"cortex-a12", haveV7VE, 0, extCortexV7A},
	{"cortex-a15", haveV7VE, 0, extCortexV7A},
	{"cortex-a17", haveV7VE, 0, extCortexV7A},
	{"cortex-a32", haveV8CRC, FeatCRC, extV8A},
	{"cortex-a35", haveV8CRC, FeatCRC, extV8A},
	{"cortex-a5", haveV7MP, FeatMP | FeatSMC, extCortexV7A},
	{"cortex-a53", haveV8CRC, FeatCRC, extV8A},
	{"cortex-a55", haveV82A | FeatFP16, FeatFP16, extCortexV82A},
	{"cortex-a57", haveV8CRC, FeatCRC, extV8A},
	{"cortex-a7", haveV7VE, 0, extCortexV7A},
	{"cortex-a710", haveV86A | FeatFML | FeatFP16 | FeatI8MM, FeatFP16 | FeatFML, extCortexV82A},
	{"cortex-a72", haveV8CRC, FeatCRC, extV8A},
	{"cortex-a73", haveV8CRC, FeatCRC, extV8A},
	{"cortex-a75", haveV82A | FeatFP16, FeatFP16, extCortexV82A},
	{"cortex-a76", haveV82A | FeatFP16, FeatFP16, extCortexV82A},
	{"cortex-a76ae", haveV82A | FeatFP16, FeatFP16, extCortexV82A},
	{"cortex-a77", haveV82A | FeatFP16, FeatFP16, extCortexV82A},
	{"cortex-a78", haveV82A | FeatFP16 | FeatSB, FeatSB | FeatFP16, extCortexV82A},
	{"cortex-a78ae", haveV82A | FeatFP16 | FeatSB, FeatSB | FeatFP16, extCortexV82A},
	{"cortex-a78c", haveV82A | FeatFP16 | FeatSB, FeatSB | FeatFP16, extCortexV82A},
	{"cortex-a8", haveV7Sec, FeatSMC, extCortexV7A},
	{"cortex-a9", haveV7MP, FeatMP | FeatSMC, extCortexV7A},
	{"cortex-m0", haveV6M | FeatSVC, 0, extV6M},
	{"cortex-m0plus", haveV6M | FeatSVC, 0, extV6M},
	{"cortex-m1", haveV6M | FeatSVC, 0, extV6M},
	{"cortex-m23", haveV8MBase, 0, extV6M},
	{"cortex-m3", haveV7M, 0, extV6M},
	{"cortex-m33", haveV8MMain | FeatDSP, FeatDSP, extCortexV8M},
	{"cortex-m35p", haveV8MMain | FeatDSP, FeatDSP, extCortexV8M},
	{"cortex-m4", haveV7M | FeatDSP, 0, extV6M},
	{"cortex-m7", haveV7M | FeatDSP, 0, extV6M},
	{"cortex-r4", haveV7R, 0, extCortexR},
	{"cortex-r4f", haveV7R, 0, extCortexR},
	{"cortex-r5", haveV7R | FeatDivA32, FeatDivA32, extCortexR},
	{"cortex-r52", haveV8CRC | FeatV8R, FeatCRC, extCortexR52},
	{"cortex-r52plus", haveV8CRC | FeatV8R, FeatCRC, extCortexR52},
	{"cortex-r7", haveV7R | FeatDivA32, FeatDivA32, extCortexR},
	{"cortex-r8", haveV7R | FeatDivA32, FeatDivA32, extCortexR},
	{"cortex-x1", haveV82A | FeatFP16 | FeatSB, FeatSB | FeatFP16, extCortexV82A},
	{"cortex-x1c", haveV82A | FeatFP16 | FeatSB, FeatSB | FeatFP16, extCortexV82A},
	{"ep9312", haveV4T, 0, extV1},
	{"exynos-m1", haveV8CRC, FeatCRC, extV8A},
	{"fa526", haveV1, 0, extV1},
	{"fa606te", haveV5TE, 0, extV1},
	{"fa616te", haveV5TE, 0, extV1},
	{"fa626", haveV1, 0, extV1},
	{"fa626te", haveV5TE, 0, extV1},
	{"fa726te", haveV5TE, 0, extV1},
	{"fmp626", haveV5TE, 0, extV1},
	{"i80200", haveV5TE, 0, extV1},
	{"iwmmxt", haveV5TE, 0, extV1},
	{"iwmmxt2", haveV5TE, 0, extV1},
	{"marvell-pj4", haveV7MP, FeatMP | FeatSMC, extCortexV7A},
	{"marvell-whitney", haveV7MP, FeatMP | FeatSMC, extCortexV7A},
	{"mpcore", haveV6K, 0, extARM1176},
	{"mpcorenovfp", haveV6K, 0, extARM1176},
	{"neoverse-n1", haveV82A | FeatFP16, FeatFP16, extCortexV82A},
	{"neoverse-n2", haveV86A | FeatFML | FeatFP16 | FeatI8MM, FeatFP16 | FeatFML, extCortexV82A},
	{"neoverse-v1", haveV84A | FeatBF16 | FeatFML | FeatFP16 | FeatI8MM, FeatFP16 | FeatFML, extCortexV82A},
	{"strongarm", haveV1, 0, extV1},
	{"strongarm1", haveV1, 0, extV1},
	{"strongarm110", haveV1, 0, extV1},
	{"strongarm1100", haveV1, 0, extV1},
	{"strongarm1110", haveV1, 0, extV1},
	{"xgene1", haveV8A, 0, extV8A},
	{"xgene2", haveV8CRC, FeatCRC, extV8A},
	{"xscale", haveV5TE, 0, extV1},
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
