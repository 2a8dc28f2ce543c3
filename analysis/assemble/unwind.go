package assemble

import (
	"math/bits"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Two sets of directives describe how to come back from a function: those of the
// exception handling ABI of the Arm architecture (EHABI32: .fnstart to .fnend), and
// .cfi_* for call frame information (DWARF). They change no section that the source
// names, but for .handlerdata, after which the source goes on in the unwinding
// table. What they say is checked as far as assemblers do, and the size of the
// table follows.

// frames is what the pass knows of them, and of other things that have a beginning
// and an end.
type frames struct {
	function    unwinding
	procs       map[int16]*procedure // open .cfi_startproc by subsection
	symvers     []symver
	relocs      []placed
	files       map[int64]bool
	inFunc      bool
	folders     bool // .file may name folders
	bundle      int64
	bundleOpen  int
	bundleItem  int32
	floatFormat string
}

// procedure is an open .cfi_startproc.
type procedure struct {
	item int32
	cfa  int64   // offset of the frame's address from its register
	kept []int64 // those that .cfi_remember_state has kept
}

// unwinding is the function between .fnstart and .fnend.
type unwinding struct {
	open     bool
	item     int32
	routine  bool  // there is a .personality
	index    int64 // .personalityindex, -1 without one, cantUnwind
	table    bool  // there is a .handlerdata
	opcodes  int   // bytes
	frame    int64 // bytes on the stack
	pending  int64 // of them not in the opcodes yet
	fp       isa.Reg
	fpOff    int64
	fpUsed   bool
	restored bool // .movsp was last
	unsure   bool // opcodes may be wrong
	section  int16
}

const cantUnwind = -2

// inFunction reports what is outside of a function.
func (a *args) inFunction() {
	if !a.pass.function.open {
		a.fail(wording.HasNone(a.directive.Name, ".fnstart"))
	}
}

func (a *args) fnstart() {
	if !a.end() {
		return
	}
	if a.pass.function.open {
		a.fail(wording.StillOpen(".fnstart", ".fnend"))
		return
	}
	a.pass.function = unwinding{open: true, item: a.item.Index, index: -1, fp: 13}
}

func (a *args) fnend() {
	if !a.end() {
		return
	}
	a.inFunction()
	if a.failed {
		return
	}
	u := &a.pass.function
	from := a.pass.currentSection
	if !u.table {
		a.tableEntry(false)
	}
	if a.pass.Sections[u.section].Record {
		a.fail(wording.FunctionInRecord())
	} else {
		a.pass.unwindSection(u.section, ".ARM.exidx")
		s := &a.pass.Sections[a.pass.currentSection]
		s.Size = (s.Size+3)&^3 + 8
		s.Align = max(s.Align, 4)
	}
	u.open = false
	a.pass.currentSection = u.section
	if from != u.section || a.item.Section != u.section {
		a.pass.moved(a.item)
	}
}

// unwindSection goes on in the unwinding section that belongs to a code section.
func (p *pass) unwindSection(code int16, name string) {
	of := p.Sections[code].Name
	if of == ".text" {
		of = ""
	} else if p.Sections[code].Record {
		of = "*ABS*"
	}
	to := p.section(name + of)
	p.prev, p.currentSection = p.currentSection, to
}

// tableEntry ends the opcodes and places the function's entry in the table, with
// data after it or not.
func (a *args) tableEntry(data bool) {
	u, p := &a.pass.function, a.pass
	if u.fpUsed {
		u.pending += u.fpOff - u.frame
		u.flush()
		u.opcode(1)
	} else {
		u.flush()
	}
	u.section = p.currentSection
	p.unwindSection(p.currentSection, ".ARM.extab")
	size := 0
	if !u.routine {
		if u.index == cantUnwind {
			if data {
				a.fail(wording.CantUnwindNoData())
			}
			return
		}
		if u.index == -1 {
			u.index = 0
			if u.opcodes > 3 {
				u.index = 1
			}
		}
		if u.index == 0 {
			if u.opcodes > 3 && !u.unsure {
				a.fail(wording.Routine0Bytes(u.opcodes))
			}
			if !data {
				return
			}
		} else {
			size = u.opcodes - 2
		}
		if u.index > 2 {
			a.fail(wording.NoRoutine())
			return
		}
	} else {
		if u.index != -1 {
			a.fail(wording.RoutineAndNumber())
			return
		}
		size = u.opcodes + 1
	}
	size = (size + 3) >> 2
	if size > 255 {
		a.fail(wording.UnwindTooLong())
	}
	s := &p.Sections[p.currentSection]
	pad, behind := -s.Size&3, int64(size*4)+4
	p.AlignAt(p.currentSection, a.item.Index, s.Size, pad+behind, 4, 0, behind)
	s.Size += pad + behind
	s.Align = max(s.Align, 4)
	u.table = true
	if u.unsure {
		s.Exact = false
	}
	if !data && u.index != 0 {
		// A word without data ends the entry.
		s.Size += 4
	}
}

// opcode adds n bytes of unwinding code after what the stack still has to move.
func (u *unwinding) opcode(n int) {
	u.flush()
	u.restored = false
	u.opcodes += n
}

func (u *unwinding) flush() {
	off := u.pending
	if u.pending = 0; off == 0 {
		return
	}
	u.restored = false
	switch {
	case off > 0x200:
		n := 1
		for o := (off - 0x204) >> 9; o > 0; o >>= 7 {
			n++
		}
		u.opcodes += n + 1
	case off > 0x100:
		u.opcodes += 2
	case off > 0:
		u.opcodes++
	default:
		u.opcodes += int((-off + 0xff) / 0x100)
	}
}

func (a *args) handlerdata() {
	if !a.end() {
		return
	}
	a.inFunction()
	if a.failed {
		return
	}
	if a.pass.function.table {
		a.fail(wording.SecondHandlerData())
		return
	}
	a.tableEntry(true)
	a.pass.moved(a.item)
}

func (a *args) pacspval() {
	if a.end() {
		a.inFunction()
		a.pass.function.opcode(1)
	}
}

func (a *args) cantunwind() {
	if !a.end() {
		return
	}
	a.inFunction()
	u := &a.pass.function
	if u.routine || u.index != -1 && u.open {
		a.fail(wording.CantUnwindRoutine())
	}
	u.index = cantUnwind
}

func (a *args) personality() {
	a.inFunction()
	u := &a.pass.function
	if u.open && (u.routine || u.index != -1) {
		a.fail(wording.SecondRoutine())
	}
	a.name()
	u.routine = true
	a.end()
}

func (a *args) personalityIndex() {
	a.inFunction()
	u := &a.pass.function
	if u.open && (u.routine || u.index != -1) {
		a.fail(wording.SecondRoutine())
	}
	n, ok := a.given()
	if !ok {
		return
	}
	if n < 0 || n > 15 {
		a.fail(wording.RoutineNumbers())
		return
	}
	u.index = n
	a.end()
}

// offset reads #constant.
func (a *args) offset() (int64, bool) {
	if !a.eat('#') && !a.eat('$') {
		a.fail(wording.NeedsHashConstant())
		return 0, false
	}
	return a.given()
}

func (a *args) pad() {
	a.inFunction()
	n, ok := a.offset()
	if !ok {
		return
	}
	if n&3 != 0 {
		a.fail(wording.StackSteps(n))
		return
	}
	a.pass.function.frame += n
	a.pass.function.pending += n
	a.end()
}

// lastOffset reads an offset after a comma, if there is one, and the end.
func (a *args) lastOffset() (off int64, ok bool) {
	if a.eat(',') {
		if off, ok = a.offset(); !ok {
			return 0, false
		}
	}
	return off, a.end()
}

func (a *args) setfp() {
	a.inFunction()
	fp := a.core()
	if fp == isa.NoReg || !a.eat(',') {
		a.shape()
		return
	}
	sp := a.core()
	if sp == isa.NoReg {
		a.shape()
		return
	}
	off, ok := a.lastOffset()
	if !ok {
		return
	}
	u := &a.pass.function
	if sp != 13 && sp != u.fp {
		a.fail(wording.SecondIsFrame())
		return
	}
	u.fp, u.fpUsed = fp, true
	if sp == 13 {
		u.fpOff = u.frame - off
	} else {
		u.fpOff -= off
	}
}

func (a *args) movsp() {
	a.inFunction()
	r := a.core()
	if r == isa.NoReg {
		a.shape()
		return
	}
	off, ok := a.lastOffset()
	if !ok {
		return
	}
	u := &a.pass.function
	if r == 13 || r == 15 {
		a.fail(wording.MovspRegister())
		return
	}
	if u.fp != 13 {
		a.fail(wording.StackKept())
	}
	u.opcode(1)
	u.fp, u.fpOff, u.restored = r, u.frame-off, true
}

func (a *args) unwindRaw() {
	a.inFunction()
	n, ok := a.given()
	if !ok {
		return
	}
	if !a.eat(',') {
		a.shape()
		return
	}
	count := 0
	for {
		v, ok := a.given()
		switch {
		case !ok:
			return
		case count >= 16:
			a.fail(wording.RawBytes())
			return
		case v < 0 || v > 255:
			a.fail(wording.NotAByte(v))
			return
		}
		count++
		if !a.eat(',') {
			break
		}
	}
	a.pass.function.frame += n
	for range count {
		a.pass.function.opcode(1)
	}
	a.end()
}

// save reads .save and .vsave: a list of registers of one kind.
func (a *args) save() {
	a.inFunction()
	b := a.i
	brace := a.eat('{')
	name := a.register()
	lower := strings.ToLower(name)
	u := &a.pass.function
	num := func(prefix string) (int, bool) {
		rest, ok := strings.CutPrefix(lower, prefix)
		n := 0
		for i := range len(rest) {
			if rest[i] < '0' || rest[i] > '9' {
				return 0, false
			}
			n = n*10 + int(rest[i]-'0')
		}
		return n, ok && rest != "" && n < 32
	}
	if v := a.pass.RegisterOf(name).Vector; v != "" {
		lower = v
	}
	core := isa.NoReg
	if r, ok := isa.RegByName(lower); ok {
		core = r
	} else if r, ok := a.pass.Alias(name); ok {
		core = r
	}
	switch {
	case core != isa.NoReg || lower == "ra_auth_code" || lower == "apsr":
		a.i = b
		a.saveCore()
		return
	case lower != "" && lower[0] == 'd':
		if _, ok := num("d"); ok {
			a.i = b
			a.saveDoubles()
			return
		}
	case lower != "" && lower[0] == 'f':
		if n, ok := num("f"); ok && n < 8 {
			if brace {
				a.fail(wording.SaveFPA())
				return
			}
			if !a.eat(',') {
				a.fail(wording.NeedsCount(name))
				return
			}
			k, ok := a.given()
			if !ok {
				return
			}
			if k < 1 || k > 4 {
				a.fail(wording.CountOneToFour())
				return
			}
			if a.end() {
				if n == 4 {
					u.opcode(1)
				} else {
					u.opcode(2)
				}
				u.frame += k * 12
			}
			return
		}
	case strings.HasPrefix(lower, "wr"), strings.HasPrefix(lower, "wcgr"):
		// Those of a coprocessor for multimedia, in whatever list.
		u.unsure = true
		return
	case name == "":
		a.fail(wording.RegisterHere())
		return
	}
	if lower != "" && (lower[0] == 's' || lower[0] == 'q') {
		a.fail(wording.CoreOrDouble(a.directive.Name, name))
		return
	}
	a.fail(wording.TakesRegisterList(a.directive.Name, name))
}

// saveCore reads a list of core registers.
func (a *args) saveCore() {
	if !a.eat('{') {
		a.fail(wording.ListInBraces())
		return
	}
	// A range ends a part of the list, and each part has codes of its own.
	parts := []uint{0}
	auth := false
	for {
		if save := a.i; strings.ToLower(a.register()) == "ra_auth_code" {
			auth = true
		} else {
			a.i = save
			r := a.core()
			if r == isa.NoReg {
				a.fail(wording.CoreOnly())
				return
			}
			last := r
			if a.eat('-') {
				if last = a.core(); last == isa.NoReg {
					a.fail(wording.RangeEnd())
					return
				}
			}
			list := &parts[len(parts)-1]
			for k := r; k <= last && k < 16; k++ {
				*list |= 1 << k
			}
			if last != r {
				parts = append(parts, 0)
			}
		}
		if !a.eat(',') {
			break
		}
	}
	if !a.eat('}') {
		a.fail(wording.ListOpen())
		return
	}
	if !a.end() {
		return
	}
	u := &a.pass.function
	if auth {
		u.opcode(1)
		u.frame += 4
	}
	for k := len(parts) - 1; k >= 0; k-- {
		u.saved(parts[k])
	}
}

// saved adds the unwinding code of core registers that are saved together.
func (u *unwinding) saved(list uint) {
	if u.restored && u.fp == 12 && list&0x3000 == 0x1000 {
		u.opcodes--
		u.restored = false
		list = (list | 0x2000) &^ 0x1000
		u.pending = 0
	}
	if list&0xfff0 != 0 {
		n := uint(0)
		for n < 8 && list&(1<<(n+4)) != 0 {
			n++
		}
		if n == 0 || list&(0xfff0<<n)&0xbff0 != 0 {
			u.opcode(2)
		} else {
			u.opcode(1)
		}
	}
	if list&15 != 0 {
		u.opcode(2)
	}
	u.frame += 4 * int64(bits.OnesCount(list))
}

// saveDoubles reads a list of double registers, one after the other.
func (a *args) saveDoubles() {
	if !a.eat('{') {
		a.fail(wording.ListInBraces())
		return
	}
	first, next := -1, -1
	limit := 15
	if a.pass.current.Have.Has(isa.FeatD32) {
		limit = 31
	}
	for {
		n := a.double()
		m := n
		if a.eat('-') {
			if m = a.double(); m == n {
				a.fail(wording.RangeOrder())
			}
		}
		switch {
		case a.failed:
			return
		case n > limit || m > limit:
			a.fail(wording.DoubleLimit(limit))
			return
		case m < n || next >= 0 && n != next:
			a.fail(wording.ListConsecutive())
			return
		}
		if first < 0 {
			first = n
		}
		next = m + 1
		if !a.eat(',') {
			break
		}
	}
	if !a.eat('}') {
		a.fail(wording.ListOpen())
		return
	}
	if !a.end() {
		return
	}
	u, count := &a.pass.function, next-first
	if a.directive.Name == ".vsave" {
		if next > 16 {
			u.opcode(2)
		}
		if first < 16 {
			u.opcode(2)
		}
		u.frame += int64(count) * 8
		return
	}
	if first == 8 {
		u.opcode(1)
	} else {
		u.opcode(2)
	}
	u.frame += int64(count)*8 + 4
}

func (a *args) double() int {
	n := -1
	name := strings.ToLower(a.register())
	if rest, ok := strings.CutPrefix(name, "d"); ok && rest != "" && len(rest) < 3 {
		n = 0
		for i := range len(rest) {
			if rest[i] < '0' || rest[i] > '9' {
				n = -1
				break
			}
			n = n*10 + int(rest[i]-'0')
		}
	}
	if n < 0 || n > 31 {
		a.fail(wording.DoubleOnly())
	}
	return n
}

// frameInfo reads the .cfi_* directives.
func (p *pass) frameInfo(a *args) {
	name, proc := a.directive.Name, p.procs[p.currentSection]
	switch name {
	case ".cfi_startproc":
		p.startProcedure(a, proc)
		return
	case ".cfi_sections":
		a.frameSections()
		return
	case ".cfi_fde_data", ".cfi_inline_lsda", ".cfi_personality_id":
		a.fail(wording.CompactTables(name))
		return
	}
	if proc == nil {
		a.fail(wording.NoOpenProc())
		return
	}
	if p.frameRule(a, proc) {
		a.end()
	}
}

// startProcedure opens a procedure; open is one that is open still.
func (p *pass) startProcedure(a *args, open *procedure) {
	if open != nil {
		a.fail(wording.StillOpen(".cfi_startproc", ".cfi_endproc"))
		return
	}
	if save := a.i; a.name() != "simple" {
		a.i = save
	}
	if p.procs == nil {
		p.procs = map[int16]*procedure{}
	}
	p.procs[p.currentSection] = &procedure{item: a.item.Index}
	a.end()
}

// frameSections reads the names of the tables that are wanted.
func (a *args) frameSections() {
	for a.peek() != 0 {
		save := a.i
		n := a.name()
		if n != ".eh_frame" && n != ".debug_frame" && n != ".sframe" {
			a.i = save
			break
		}
		if !a.eat(',') {
			break
		}
	}
	a.end()
}

// frameRule reads a directive in a procedure. ok is false where what comes after the
// arguments is not looked at.
func (p *pass) frameRule(a *args, proc *procedure) (ok bool) {
	switch name := a.directive.Name; name {
	case ".cfi_endproc":
		delete(p.procs, p.currentSection)
	case ".cfi_offset", ".cfi_rel_offset", ".cfi_val_offset", ".cfi_def_cfa":
		return a.frameOffset(proc)
	case ".cfi_register":
		a.frameRegister()
		a.comma()
		if !a.failed {
			a.frameRegister()
		}
	case ".cfi_def_cfa_register", ".cfi_return_column":
		a.frameRegister()
	case ".cfi_restore", ".cfi_undefined", ".cfi_same_value":
		a.each(a.frameRegister)
	case ".cfi_def_cfa_offset", ".cfi_adjust_cfa_offset":
		if name == ".cfi_def_cfa_offset" {
			proc.cfa = 0
		}
		if n, ok := a.number(); ok {
			proc.cfa += n
		}
	case ".cfi_remember_state":
		proc.kept = append(proc.kept, proc.cfa)
	case ".cfi_restore_state":
		k := len(proc.kept) - 1
		if k < 0 {
			a.fail(wording.HasNone(".cfi_restore_state", ".cfi_remember_state"))
			return false
		}
		proc.cfa, proc.kept = proc.kept[k], proc.kept[:k]
	case ".cfi_escape":
		a.each(func() { a.value() })
	case ".cfi_personality", ".cfi_lsda":
		return a.frameHandler()
	case ".cfi_val_encoded_addr":
		return a.encodedAddress()
	case ".cfi_label":
		if n := a.symbol(); n != "" {
			p.Symbol(n).Extern = true
		}
	}
	return true
}

// frameRegister reads a register by its name or its number.
func (a *args) frameRegister() {
	switch c := a.peek(); {
	case c == '%' || isName(c) && !(c >= '0' && c <= '9'):
		n := a.register()
		if !a.pass.frameRegister(n) {
			a.fail(wording.NotARegister(n))
		}
	default:
		if n, ok := a.given(); ok && n < 0 {
			a.fail(wording.RegisterNumbers())
		}
	}
}

// frameOffset reads a register and where it is saved, or what the frame counts from.
func (a *args) frameOffset(proc *procedure) (ok bool) {
	name := a.directive.Name
	a.frameRegister()
	a.comma()
	if a.failed {
		return false
	}
	n, ok := a.number()
	switch {
	case !ok:
	case name == ".cfi_def_cfa":
		proc.cfa = n
	case name == ".cfi_rel_offset" && proc.cfa%4 != 0 && (n-proc.cfa)%4 != 0:
		a.fail(wording.SavedFromFrame(n, proc.cfa))
	case name == ".cfi_rel_offset" && proc.cfa%4 != 0:
	case n%4 != 0:
		a.fail(wording.SavedAt(n))
	}
	return true
}

// frameHandler reads how an address is encoded, and the address.
func (a *args) frameHandler() (ok bool) {
	const omitted = 0xff // no address comes after it
	n, _ := a.number()
	switch {
	case a.failed:
		return false
	case n == omitted:
		return true
	case !encoding(n):
		a.fail(wording.AddressEncoding(a.directive.Name, n))
		return false
	}
	return a.frameAddress()
}

// encodedAddress reads a register, how an address is encoded, and the address.
func (a *args) encodedAddress() (ok bool) {
	a.frameRegister()
	a.comma()
	if a.failed {
		return false
	}
	n, _ := a.number()
	if !a.failed && !encoding(n) {
		a.fail(wording.AddressEncoding(a.directive.Name, n))
	}
	return a.frameAddress()
}

// frameAddress reads a comma and an address.
func (a *args) frameAddress() (ok bool) {
	a.comma()
	if a.failed {
		return false
	}
	if _, given := a.value(); !given {
		a.shape()
	}
	return true
}

// encoding says whether a number encodes addresses as the tables can hold them: of 2,
// 4 or 8 bytes or the machine's size, plain or from the place (LSB, "DWARF
// Exception Header Encoding").
func encoding(n int64) bool {
	if n&0xff != n || n&0x70 != 0 && n&0x70 != 0x10 {
		return false
	}
	switch n & 7 {
	case 0, 2, 3, 4:
		return true
	}
	return false
}

// frameRegister says whether a name is a register of DWARF for the Arm architecture
// (AADWARF32, "DWARF register names").
func (p *pass) frameRegister(n string) bool {
	l := strings.ToLower(n)
	if l != n && strings.ToUpper(n) != n {
		return false
	}
	if _, ok := isa.RegByName(l); ok {
		return true
	}
	if _, ok := p.Alias(n); ok {
		return true
	}
	if l == "ra_auth_code" {
		return true
	}
	if rest, ok := strings.CutPrefix(l, "s"); ok && isNumber(rest, 31) {
		return true
	}
	rest, ok := strings.CutPrefix(l, "d")
	return ok && isNumber(rest, 31)
}

func isNumber(s string, most int) bool {
	n := 0
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' || n > most {
			return false
		}
		n = n*10 + int(s[i]-'0')
	}
	return s != "" && n <= most
}

// openAtEnd reports what has no end.
func (p *pass) openAtEnd() {
	for _, x := range p.procs {
		p.Report(p.StmtLoc(&p.Items[x.item]), finding.CodeDirective, wording.Unclosed(".cfi_startproc", ".cfi_endproc"))
	}
	if p.bundleOpen > 0 {
		p.Report(p.StmtLoc(&p.Items[p.bundleItem]), finding.CodeDirective, wording.Unclosed(".bundle_lock", ".bundle_unlock"))
	}
	for _, v := range p.symvers {
		if y := p.Find(v.name); y == nil || !y.Defined {
			p.Report(p.StmtLoc(&p.Items[v.item]), finding.CodeDirective, wording.VersionUndefined(v.name))
		}
	}
}

// resolvePlaced looks at the offsets of .reloc.
func (p *pass) resolvePlaced() {
	for _, r := range p.relocs {
		it := &p.Items[r.item]
		v := r.val
		if v.Kind == program.Undefined && v.Symbol != nil {
			if v.Symbol.Defined {
				n := v.N
				if v = p.SymValue(v.Symbol, 0); v.Kind == program.Address {
					v.N += n
				}
			} else {
				p.Report(p.StmtLoc(it), finding.CodeUndefined, wording.RelocUndefined(v.Symbol.Name))
				continue
			}
		}
		sec := it.Section
		if v.Kind == program.Address {
			sec = p.Sections[v.Section].Main
		} else if v.Kind != program.Number {
			continue
		}
		if s := &p.Sections[sec]; s.Exact && (v.N < 0 || v.N > s.Size) {
			p.Report(p.StmtLoc(it), finding.CodeDirective, wording.PastSection(s.Name, s.Size, v.N))
		}
	}
}
