package isa

import (
	"slices"
	"strings"
)

// extension is what a name after '+', or after .arch_extension, brings to
// the architectures that have all of on. The same name with "no" before it
// takes it away again.
type extension struct {
	name string
	on   Features
	// add comes with the name; drop goes with "no" and the name, as far as
	// an extension brought it: what the architecture itself has stays.
	add, drop Features
}

// fpDropSIMD is what goes with "nosimd".
const fpDropSIMD = FeatNEON | FeatNEONFMA | FeatNEONv8 | FeatNEON81

// extensions lists the extensions that bring something that the table knows.
// Of several entries with one name the first that fits counts. Names that are
// in no entry belong to other instruction sets: they bring nothing. What they
// add is compared with the reference assembler by TestTargets.
var extensions = []extension{
	{"bf16", 0, FeatBF16, 0},
	{"crc", 0, FeatCRC, FeatCRC},
	{"crypto", FeatPAN | FeatV81M, fpCrypto, FeatCrypto}, // "all"
	{"crypto", FeatPAN, fpCrypto81, FeatCrypto},
	{"crypto", 0, fpCrypto, FeatCrypto},
	{"dotprod", 0, fpNEON81 | FeatDot, FeatDot},
	{"dsp", 0, FeatDSP, FeatDSP},
	{"fp", FeatV8, fpV8, fpAny},
	{"fp", FeatM | FeatSec, fpV5SP, fpAny},
	{"fp", FeatM, fpVFP4SP, fpAny},
	{"fp", FeatVirt, fpVFP4D16, fpAny},
	{"fp", FeatBar, fpVFP3D16, fpAny},
	{"fp", 0, fpVFP2, fpAny},
	{"fp.dp", 0, fpV5D16, 0},
	{"fp.sp", FeatV8, fpV5SP, 0},
	{"fp.sp", 0, fpVFP3SP, 0},
	{"fp16", FeatBF16, FeatFP16 | FeatFML, FeatFP16 | FeatFML},
	{"fp16", FeatFP16, FeatFP16, FeatFP16 | FeatFML},
	{"fp16", FeatDot, fpNEON81 | FeatFP16 | FeatFML, FeatFP16 | FeatFML},
	{"fp16", 0, fpNEON81 | FeatFP16, FeatFP16 | FeatFML},
	{"fp16fml", FeatDot, FeatFP16 | FeatFML, FeatFP16 | FeatFML},
	{"fp16fml", FeatFP16, FeatFP16 | FeatFML, FeatFP16 | FeatFML},
	{"fp16fml", 0, fpNEON81 | FeatFP16 | FeatFML, FeatFP16 | FeatFML},
	{"fpv5", 0, fpV5SP, 0},
	{"fpv5-d16", 0, fpV5D16, 0},
	{"i8mm", 0, FeatI8MM, 0},
	{"idiv", 0, FeatDivThumb | FeatDivA32, FeatDivThumb | FeatDivA32},
	{"mp", 0, FeatMP, FeatMP},
	{"mve", 0, FeatDSP | FeatVFP2, FeatVFP2},
	{"mve.fp", 0, fpV5SP | FeatDSP, 0},
	{"neon", 0, fpNEON, 0},
	{"neon-fp16", 0, fpNEON, 0},
	{"neon-vfpv3", 0, fpNEON, 0},
	{"neon-vfpv4", 0, fpNEON4, 0},
	{"os", 0, FeatSVC, FeatSVC},
	{"pan", 0, FeatPAN, FeatPAN},
	{"ras", 0, FeatRAS, FeatRAS},
	{"rdma", 0, fpNEON81, fpDropSIMD},
	{"sb", 0, FeatSB, FeatSB},
	{"sec", FeatA32, FeatSMC, FeatSMC},
	{"simd", FeatPAN | FeatV81M, fpNEON8, fpDropSIMD}, // "all"
	{"simd", FeatPAN, fpNEON81, fpDropSIMD},
	{"simd", FeatV8, fpNEON8, fpDropSIMD},
	{"simd", FeatVirt, fpNEON4, fpDropSIMD},
	{"simd", 0, fpNEON, fpDropSIMD},
	{"vfpv3", 0, fpVFP3, 0},
	{"vfpv3-d16", 0, fpVFP3D16, 0},
	{"vfpv3-d16-fp16", 0, fpVFP3D16, 0},
	{"vfpv3-fp16", 0, fpVFP3, 0},
	{"vfpv3xd", 0, fpVFP3SP, 0},
	{"vfpv3xd-fp16", 0, fpVFP3SP, 0},
	{"vfpv4", 0, fpVFP4, 0},
	{"vfpv4-d16", 0, fpVFP4D16, 0},
	{"vfpv4-sp-d16", 0, fpVFP4SP, 0},
	{"virt", 0, FeatVirt | FeatDivThumb | FeatDivA32, FeatVirt},
}

// ExtensionNames lists the extensions that a target with these features can get.
func ExtensionNames(have Features) (out []string) {
	for _, x := range extensions {
		if have.Has(x.on) && !slices.Contains(out, x.name) {
			out = append(out, x.name)
		}
	}
	return out
}

// stays lists, for the architectures where it is so, the extensions that "no"
// does not take away again: the reference assembler takes the name there, and
// nothing happens. (Cores lose them.)
var stays = map[string][]string{
	"armv7-a":   {"mp", "sec"},
	"armv7a":    {"mp", "sec"},
	"armv8-a":   {"crc", "sb", "simd"},
	"armv8-r":   {"crc", "simd"},
	"armv8.1-a": {"sb", "simd"},
	"armv8.2-a": {"dotprod", "fp16", "fp16fml", "sb", "simd"},
	"armv8.3-a": {"dotprod", "fp16", "fp16fml", "sb", "simd"},
	"armv8.4-a": {"fp16", "sb", "simd"},
	"armv8.5-a": {"fp16", "simd"},
	"armv9-a":   {"fp16", "simd"},
}

// extends says whether the target takes an extension name.
func (t *Target) extends(name string) bool {
	for x := range strings.FieldsSeq(t.ext) {
		if x == name {
			return true
		}
	}
	return false
}

// extension finds what an extension name, perhaps with "no", means for t.
func (t *Target) extension(name string) extension {
	bare := strings.TrimPrefix(name, "no")
	for _, x := range extensions {
		if x.name == bare && t.Have.Has(x.on) {
			return x
		}
	}
	return extension{}
}

// Selection is what a program has chosen so far: an architecture or a core,
// extensions of it, and a floating-point unit. Two can be compared by ==. The
// zero value has nothing.
type Selection struct {
	base *Target
	arch *Target  // the last architecture chosen, also after a core
	ext  Features // from the core's and the chosen extensions
	core Features // base and ext, as far as a chosen unit has not replaced it
	fpu  Features
}

// SelectArch chooses an architecture by name; it is false for an unknown one,
// and then nothing changes. Extensions chosen before go, the floating-point
// unit stays.
func (s *Selection) SelectArch(name string) bool {
	ok := s.choose(arches, name)
	if ok {
		s.arch = s.base
	}
	return ok
}

// SelectCPU is SelectArch for the name of a core.
func (s *Selection) SelectCPU(name string) bool { return s.choose(cpus, name) }

func (s *Selection) choose(list []Target, name string) bool {
	i := find(list, name)
	if i < 0 {
		return false
	}
	s.base = &list[i]
	s.ext, s.core = s.base.Own, s.base.Have
	return true
}

// Extend adds or, where it begins with "no", takes away an extension, named
// as after a '+' without the sign. It says whether the architecture or core
// has an extension of this name; if not, nothing changes.
func (s *Selection) Extend(name string) bool {
	if s.base == nil {
		return false
	}
	from := s.base
	x := from.extension(name)
	if !from.extends(name) {
		// Behind a core, what the architecture before it had of
		// floating-point units is still there. (The assembler keeps a few
		// other names of it, too, such as crc and mp: too rare a mixture.)
		if from = s.arch; from == nil || !from.extends(name) {
			return false
		}
		if x = from.extension(name); x.add&FeatVFP == 0 {
			return false
		}
	}
	switch {
	case !strings.HasPrefix(name, "no"):
		s.ext |= x.add
	case !slices.Contains(stays[from.Name], x.name):
		s.ext &^= x.drop
	}
	s.core = s.base.Have&^s.base.Own | s.ext
	return true
}

// SelectFPU chooses a floating-point unit by name as .fpu does: it replaces
// the unit before, and what extensions brought of one until the next name. It
// is false for an unknown one.
func (s *Selection) SelectFPU(name string) bool {
	t, ok := FPU(name)
	if ok {
		s.core &^= fpAny
		s.fpu = t.Have
	}
	return ok
}

// AddFPU is SelectFPU as -mfpu does it: what extensions bring stays.
func (s *Selection) AddFPU(name string) bool {
	t, ok := FPU(name)
	if ok {
		s.fpu = t.Have
	}
	return ok
}

// Have is all that the selection has.
func (s *Selection) Have() Features { return s.core | s.fpu }

// Extensions lists the extension names that the architecture or core takes,
// sorted.
func (s *Selection) Extensions() []string {
	if s.base == nil {
		return nil
	}
	return s.base.Ext()
}

// KnowsExtension says whether any architecture or core has an extension of
// this name.
func KnowsExtension(name string) bool {
	for _, list := range [][]Target{arches, cpus} {
		for i := range list {
			if list[i].extends(name) {
				return true
			}
		}
	}
	return false
}
