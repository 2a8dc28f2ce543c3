package isa

import (
	"strings"
	"sync"
)

// otherMnemonic recognises names of vectors that no row describes.
func otherMnemonic(name string) *Mnemonic {
	if vectorName(name) {
		return &Mnemonic{Name: name}
	}
	return nil
}

// vectorNames are the stems of names that have vectors or numbers of half
// precision as operands, of which the table has none or not all.
const vectorNames = "vaba vabal vabd vabdl vabs vacge vacgt vacle vaclt vadd vaddhn vaddl vaddw vand vbic vbif vbit vbsl vceq vcge vcgt vcle vcls vclt vclz vcmp vcmpe vcnt vcvt vcvta vcvtb vcvtm vcvtn vcvtp vcvtr vcvtt vdiv vdup veor vext vfma vfms vfnma vfnms vhadd vhsub vld1 vld2 vld3 vld4 vldr vmax vmaxnm vmin vminnm vmla vmlal vmls vmlsl vmov vmovl vmovn vmovx vins vmul vmull vmvn vneg vnmla vnmls vnmul vorn vorr vpadal vpadd vpaddl vpmax vpmin vqabs vqadd vqdmlal vqdmlsl vqdmulh vqdmull vqmovn vqmovun vqneg vqrdmulh vqrdmlah vqrdmlsh vqrshl vqrshrn vqrshrun vqshl vqshlu vqshrn vqshrun vqsub vraddhn vrecpe vrecps vrev16 vrev32 vrev64 vrhadd vrinta vrintm vrintn vrintp vrintr vrintx vrintz vrshl vrshr vrshrn vrsqrte vrsqrts vrsra vrsubhn vsel vseleq vselge vselgt vselvs vshl vshll vshr vshrn vsli vsqrt vsra vsri vst1 vst2 vst3 vst4 vstr vsub vsubhn vsubl vsubw vswp vtbl vtbx vtrn vtst vuzp vzip vjcvt vsdot vudot vfmal vfmsl vcmla vcadd vscclrm " +
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
			if t == "" || strings.Trim(t, "0123456789") == t && t != "f" && t != "d" && t != "i" && t != "s" && t != "u" {
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
// with its suffixes).
func A32Name(name string) bool {
	if i := strings.IndexByte(name, '.'); i > 0 && name[0] != 'v' {
		name = name[:i]
	}
	r, _ := tableOf(name).read(name)
	return r.stem != nil && len(r.stem.forms) > 0 || vectorName(name)
}

// A32Constant says whether an A32 MOV or MVN holds the constant: eight bits
// rotated right by an even amount, or the inverse of such (Arm ARM, "Modified
// immediate constants in ARM instructions").
func A32Constant(v uint32) bool { return A.moves(v) }
