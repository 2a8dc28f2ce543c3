package reftest

import (
	"debug/elf"
	"encoding/binary"
	"fmt"
	"slices"
	"sort"
	"strings"
	"testing"
)

// File is what the reference assembler makes of one whole program.
type File struct {
	OK bool
	// Lines of the text with an error or a warning, from 1, sorted, each once.
	// For a line that a macro made: the line of the outermost invocation. A
	// line outside the text (the prologue) does not appear.
	ErrorLines, WarnLines []int
	// Others are the errors in files that the text includes, by the names that
	// the assembler found them under.
	Others []Place
	Object // what was made; empty where OK is false
}

// maxContent is how much of a section is kept, in bytes: a .space or an .align
// makes gigabytes, of which nobody wants more than the size.
const maxContent = 64 << 20

// Object is the content of a relocatable ELF file, by name.
type Object struct {
	Sections map[string][]byte // those with content, and empty ones; nil beyond maxContent bytes
	Sizes    map[string]int64  // of the same sections, in bytes
	Symbols  map[string]Sym    // all but sections, files and mapping symbols; also local ones (.L…)
	Relocs   map[string][]Reloc
}

// Sym is a symbol of an object file.
type Sym struct {
	Section string // empty: undefined; "*ABS*": absolute; "*COM*": common
	Value   uint32 // offset in the section, without the Thumb bit
	Size    uint32
	Type    elf.SymType
	Bind    elf.SymBind
	// Thumb: T16 or T32 code is there: a function symbol with bit 0 set,
	// or a symbol after the mapping symbol $t (AAELF32, "Mapping symbols").
	Thumb bool
}

// AssembleFile assembles text as one program, after opt's prologue. It is a
// single run: an error that the assembler only looks for in a program without
// other errors is not among ErrorLines,
// nor is one that names no line. The test fails when the tool can't be
// run; a program that is refused is an ordinary result.
func AssembleFile(t testing.TB, opt Options, text string) File {
	t.Helper()
	Require(t, assembler)
	header := opt.header()
	skip := strings.Count(header, "\n")
	out, err := runAssembler(t.TempDir(), opt, header+text, "--keep-locals")
	if err != nil {
		t.Fatalf("reftest: %v", err)
	}
	own := func(lines []int) []int {
		var o []int
		for _, n := range lines {
			if n > skip {
				o = append(o, n-skip)
			}
		}
		slices.Sort(o)
		return slices.Compact(o)
	}
	f := File{OK: out.object != "", ErrorLines: own(out.errors), WarnLines: own(out.warnings), Others: out.others}
	if f.OK {
		if f.Object, err = readObject(out.object); err != nil {
			t.Fatalf("reftest: the assembler's output: %v", err)
		}
	}
	return f
}

// readObject takes the ELF file at path apart.
func readObject(path string) (Object, error) {
	o := Object{Sections: map[string][]byte{}, Sizes: map[string]int64{}, Symbols: map[string]Sym{}, Relocs: map[string][]Reloc{}}
	f, err := elf.Open(path)
	if err != nil {
		return o, err
	}
	defer f.Close()
	for _, s := range f.Sections {
		if s.Type != elf.SHT_PROGBITS && s.Type != elf.SHT_NOBITS && s.Type != elf.SHT_NOTE {
			continue
		}
		var data []byte
		switch {
		case s.Size > maxContent:
		case s.Type == elf.SHT_NOBITS:
			data = make([]byte, s.Size)
		default:
			if data, err = s.Data(); err != nil {
				return o, err
			}
		}
		o.Sections[s.Name], o.Sizes[s.Name] = data, int64(s.Size)
	}
	syms, err := f.Symbols()
	if err != nil && err != elf.ErrNoSymbols {
		return o, err
	}
	section := func(i elf.SectionIndex) string {
		switch {
		case i == elf.SHN_UNDEF:
			return ""
		case i == elf.SHN_ABS:
			return "*ABS*"
		case i == elf.SHN_COMMON:
			return "*COM*"
		case int(i) < len(f.Sections):
			return f.Sections[i].Name
		}
		return fmt.Sprintf("*%#x*", int(i))
	}
	maps := mappings(syms)
	for _, s := range syms {
		typ := elf.ST_TYPE(s.Info)
		if typ == elf.STT_SECTION || typ == elf.STT_FILE || isMapping(s.Name) {
			continue
		}
		v := uint32(s.Value)
		out := Sym{Section: section(s.Section), Value: v, Size: uint32(s.Size), Type: typ, Bind: elf.ST_BIND(s.Info)}
		if typ == elf.STT_FUNC && v&1 != 0 {
			out.Value, out.Thumb = v&^1, true
		} else {
			out.Thumb = maps.at(s.Section, v) == 't'
		}
		o.Symbols[s.Name] = out
	}
	for _, s := range f.Sections {
		if s.Type != elf.SHT_REL {
			continue
		}
		data, err := s.Data()
		if err != nil {
			return o, err
		}
		place := section(elf.SectionIndex(s.Info))
		for ; len(data) >= 8; data = data[8:] {
			info := binary.LittleEndian.Uint32(data[4:])
			rel := Reloc{Offset: binary.LittleEndian.Uint32(data), Type: elf.R_ARM(elf.R_TYPE32(info))}
			if n := elf.R_SYM32(info); n > 0 && int(n) <= len(syms) { // debug/elf leaves out symbol 0
				sym := syms[n-1]
				rel.Symbol = sym.Name
				if elf.ST_TYPE(sym.Info) == elf.STT_SECTION {
					rel.Symbol = section(sym.Section)
				}
			}
			o.Relocs[place] = append(o.Relocs[place], rel)
		}
	}
	return o, nil
}

// isMapping says whether name is a mapping symbol: $a, $t, $d, perhaps with a
// suffix after a full stop (AAELF32, "Mapping symbols").
func isMapping(name string) bool {
	return len(name) >= 2 && name[0] == '$' && strings.IndexByte("atd", name[1]) >= 0 &&
		(len(name) == 2 || name[2] == '.')
}

// mapping says that from an offset on a section holds A32 code ('a'), T16 and
// T32 code ('t') or data ('d').
type mapping struct {
	from uint32
	kind byte
}

// mappingTable has the mappings of each section, by offset.
type mappingTable map[elf.SectionIndex][]mapping

func mappings(syms []elf.Symbol) mappingTable {
	m := mappingTable{}
	for _, s := range syms {
		if isMapping(s.Name) {
			m[s.Section] = append(m[s.Section], mapping{uint32(s.Value), s.Name[1]})
		}
	}
	for _, list := range m {
		sort.SliceStable(list, func(i, j int) bool { return list[i].from < list[j].from })
	}
	return m
}

// at is the kind of what is at offset, 0 where nothing says so.
func (m mappingTable) at(s elf.SectionIndex, offset uint32) byte {
	list := m[s]
	i := sort.Search(len(list), func(i int) bool { return list[i].from > offset })
	if i == 0 {
		return 0
	}
	return list[i-1].kind
}
