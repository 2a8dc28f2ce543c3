package isa

import (
	"math/bits"
	"strings"
	"sync"
)

// The names of the A32 and T32 instruction sets, for recognition alone: their
// operands are not looked at yet. A name takes the suffixes of its class.

// Classes of suffixes.
const (
	condOnly = "b bl blx bx bxj svc swi mrs msr clz nop yield wfe wfi sev dbg mul mla mls umull umlal smull smlal umaal " +
		"swp swpb ldrex ldrexb ldrexh ldrexd strex strexb strexh strexd lda ldab ldah stl stlb stlh ldaex ldaexb ldaexh ldaexd stlex stlexb stlexh stlexd " +
		"qadd qsub qdadd qdsub smlabb smlabt smlatb smlatt smulbb smulbt smultb smultt smlawb smlawt smulwb smulwt smlalbb smlalbt smlaltb smlaltt " +
		"rev rev16 revsh rbit sxtb sxth sxtb16 uxtb uxth uxtb16 sxtab sxtah sxtab16 uxtab uxtah uxtab16 " +
		"pkhbt pkhtb sel ssat ssat16 usat usat16 usad8 usada8 smlad smladx smlsd smlsdx smuad smuadx smusd smusdx smlald smlaldx smlsld smlsldx smmla smmlar smmls smmlsr smmul smmulr " +
		"sadd8 sadd16 ssub8 ssub16 sasx ssax saddsubx ssubaddx qadd8 qadd16 qsub8 qsub16 qasx qsax qaddsubx qsubaddx shadd8 shadd16 shsub8 shsub16 shasx shsax " +
		"uadd8 uadd16 usub8 usub16 uasx usax uqadd8 uqadd16 uqsub8 uqsub16 uqasx uqsax uhadd8 uhadd16 uhsub8 uhsub16 uhasx uhsax " +
		"bfc bfi sbfx ubfx movw movt orn sdiv udiv cdp mcr mrc mcrr mrrc ldc ldcl stc stcl cdp2 mcr2 mrc2 mcrr2 mrrc2 ldc2 ldc2l stc2 stc2l " +
		"cpy adr adrl addw subw tbb tbh sg tt ttt tta ttat bxns blxns smc hvc eret smi crc32b crc32h crc32w crc32cb crc32ch crc32cw vlldm vlstm udf teq tst cmp cmn ldrsb ldrsh ldrh strh ldrd strd"
	always   = "pld pldw pli dmb dsb isb clrex cps cpsie cpsid setend rfe rfeia rfeib rfeda rfedb rfefa rfefd rfeea rfeed srs srsia srsib srsda srsdb srsfa srsfd srsea srsed bkpt hlt csdb ssbb pssbb esb sb cbz cbnz it itt ite ittt itte itet itee itttt ittte ittet ittee itett itete iteet iteee nop.w udf.w"
	flagging = "and eor sub rsb add adc sbc rsc orr mov bic mvn lsl lsr asr ror rrx mul mla umull umlal smull smlal orn neg"
	pTeq     = "tst teq cmp cmn"
	memory   = "ldr str"
	multiple = "ldm stm push pop"
	vector   = "v f"
)

var a32Names = sync.OnceValue(func() map[string]*Mnemonic {
	out := make(map[string]*Mnemonic, 16384)
	add := func(n string) { out[n] = &Mnemonic{Name: n, A32: true, T32: true} }
	conds := append([]string{"", "hs", "lo", "ul"}, condNames[:]...)
	for _, n := range strings.Fields(always) {
		add(n)
	}
	for _, n := range strings.Fields(condOnly) {
		for _, c := range conds {
			add(n + c)
		}
	}
	// s and condition, in both orders: the unified and the older one.
	for _, n := range strings.Fields(flagging) {
		for _, c := range conds {
			add(n + c)
			add(n + "s" + c)
			add(n + c + "s")
		}
	}
	for _, n := range strings.Fields(pTeq) {
		for _, c := range conds {
			add(n + "p" + c)
			add(n + c + "p")
		}
	}
	for _, n := range strings.Fields(memory) {
		for _, t := range []string{"b", "h", "sb", "sh", "d", "t", "bt", "ht", "sbt", "sht"} {
			for _, c := range conds {
				add(n + c)
				add(n + t + c)
				add(n + c + t)
			}
		}
	}
	for _, c := range conds {
		add("adr" + c + "l")
	}
	for _, n := range []string{"swp"} {
		for _, c := range conds {
			add(n + c + "b")
		}
	}
	for _, n := range strings.Fields(multiple) {
		for _, t := range []string{"", "ia", "ib", "da", "db", "fd", "fa", "ed", "ea"} {
			for _, c := range conds {
				add(n + t + c)
				add(n + c + t)
			}
		}
	}
	return out
})

// otherMnemonic recognises names that only A32, T32, the floating-point or
// the SIMD extensions have.
func otherMnemonic(name string) *Mnemonic {
	if m := a32Names()[name]; m != nil {
		return m
	}
	if vectorName(name) {
		return &Mnemonic{Name: name, A32: true, T32: true}
	}
	return nil
}

// vectorNames are the stems of the floating-point, SIMD and vector names of
// the unified syntax and of the older floating-point syntax.
const vectorNames = "vaba vabal vabd vabdl vabs vacge vacgt vacle vaclt vadd vaddhn vaddl vaddw vand vbic vbif vbit vbsl vceq vcge vcgt vcle vcls vclt vclz vcmp vcmpe vcnt vcvt vcvta vcvtb vcvtm vcvtn vcvtp vcvtr vcvtt vdiv vdup veor vext vfma vfms vfnma vfnms vhadd vhsub vld1 vld2 vld3 vld4 vldm vldmia vldmdb vldr vmax vmaxnm vmin vminnm vmla vmlal vmls vmlsl vmov vmovl vmovn vmovx vins vmrs vmsr vmul vmull vmvn vneg vnmla vnmls vnmul vorn vorr vpadal vpadd vpaddl vpmax vpmin vpop vpush vqabs vqadd vqdmlal vqdmlsl vqdmulh vqdmull vqmovn vqmovun vqneg vqrdmulh vqrdmlah vqrdmlsh vqrshl vqrshrn vqrshrun vqshl vqshlu vqshrn vqshrun vqsub vraddhn vrecpe vrecps vrev16 vrev32 vrev64 vrhadd vrinta vrintm vrintn vrintp vrintr vrintx vrintz vrshl vrshr vrshrn vrsqrte vrsqrts vrsra vrsubhn vsel vseleq vselge vselgt vselvs vshl vshll vshr vshrn vsli vsqrt vsra vsri vst1 vst2 vst3 vst4 vstm vstmia vstmdb vstr vsub vsubhn vsubl vsubw vswp vtbl vtbx vtrn vtst vuzp vzip vjcvt vsdot vudot vfmal vfmsl vcmla vcadd vscclrm " +
	"fabss fabsd fadds faddd fcmps fcmpd fcmpes fcmped fcmpzs fcmpzd fcmpezs fcmpezd fcpys fcpyd fcvtds fcvtsd fdivs fdivd flds fldd fldmias fldmiad fldmiax fldmdbs fldmdbd fldmdbx fldmeas fldmfds fldmead fldmfdd fldmeax fldmfdx fmacs fmacd fmdhr fmdlr fmdrr fmrdh fmrdl fmrrd fmrrs fmrs fmrx fmscs fmscd fmsr fmsrr fmstat fmuls fmuld fmxr fnegs fnegd fnmacs fnmacd fnmscs fnmscd fnmuls fnmuld fsitos fsitod fsqrts fsqrtd fstmias fstmiad fstmiax fstmdbs fstmdbd fstmdbx fstmeas fstmfds fstmead fstmfdd fstmeax fstmfdx fsts fstd fsubs fsubd ftosis ftosid ftouis ftouid ftosizs ftosizd ftouizs ftouizd fuitos fuitod fconsts fconstd fshtos fshtod fsltos fsltod fuhtos fuhtod fultos fultod ftoshs ftoshd ftosls ftosld ftouhs ftouhd ftouls ftould " +
	"aesd aese aesimc aesmc sha1c sha1h sha1m sha1p sha1su0 sha1su1 sha256h sha256h2 sha256su0 sha256su1"

var vectorSet = sync.OnceValue(func() map[string]bool {
	out := map[string]bool{}
	for _, n := range strings.Fields(vectorNames) {
		out[n] = true
	}
	return out
})

// vectorName recognises stem, condition and type suffixes, as in vaddeq.f32.
func vectorName(name string) bool {
	stem, types, typed := strings.Cut(name, ".")
	set := vectorSet()
	if typed {
		for _, t := range strings.Split(types, ".") {
			if t == "" || strings.Trim(t, "0123456789") == t && t != "f" && t != "d" && t != "w" && t != "n" && t != "i" && t != "s" && t != "u" {
				return false
			}
		}
	}
	if set[stem] {
		return true
	}
	if n := len(stem) - 2; n > 2 && set[stem[:n]] {
		_, ok := CondByName(stem[n:])
		return ok
	}
	return false
}

// A32Name says whether the A32 instruction set has the mnemonic (lower case,
// with its suffixes). T16 names of the unified syntax are all names of A32
// too, but for those that only the compact state has.
func A32Name(name string) bool {
	if i := strings.IndexByte(name, '.'); i > 0 && name[0] != 'v' {
		name = name[:i]
	}
	return a32Names()[name] != nil && !strings.HasPrefix(name, "cb") && !strings.HasPrefix(name, "it") || vectorName(name)
}

// A32Constant says whether an A32 MOV or MVN holds the constant: eight bits
// rotated right by an even amount, or the inverse of such (Arm ARM, "Modified
// immediate constants in ARM instructions").
func A32Constant(v uint32) bool {
	for r := 0; r < 32; r += 2 {
		if x := bits.RotateLeft32(v, r); x < 256 || ^x < 256 {
			return true
		}
	}
	return false
}
