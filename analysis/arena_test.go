package analysis

import (
	"bytes"
	"debug/elf"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"os"
	osexec "os/exec"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/exec"
	"narrowgauge/isa/reftest"
)

// The arena runs two builds of one source side by side: one in which a line that has no
// encoding is carried out as it is evidently meant, and one in which rewrites have been
// made of it. Both are assembled and linked by the reference tools and carried out by
// package exec. What callers can see must be the same.

// Where the arena has its code, the routines of other files, and the end of a run.
const (
	arenaCode  = 0x4a30_0000
	arenaData  = 0x4a34_0000
	arenaOther = 0x4a38_0000
	arenaEnd   = 0x4a39_0000
	arenaStack = 0x7e5c_0000 // around here
)

// hole is a statement that is carried out as it is meant.
type hole struct {
	start, end int    // its span in the text
	fill       string // takes its place
	size       uint32 // in the built program
	// means changes the state as the statement means; the condition is looked at before.
	// False ends the run: what the statement means is not known here.
	means func(s *exec.State, b *build) bool
	cond  isa.Cond
	// real: what fills the place is carried out where means says true, else not.
	real bool
	lead uint32 // where in the fill it is
	// always: what it means is done whatever an IT block says.
	always bool
}

// build is a linked program.
type build struct {
	flat    []byte // from arenaCode on
	size    uint32 // of code
	symbols map[string]elf.Symbol
	other   []string // the routines of other files, 16 bytes each from arenaOther on
	marks   []mark   // by address
	holes   map[uint32]*hole
	have    isa.Features
	kinds   []mark        // where A32 code ('a'), Thumb code ('t') and data ('d') begin (AAELF32, "Mapping symbols")
	decoded [2][]*decoded // by instruction set and halfword
}

// decoded is what the code at an address is. The row is nil where it is no instruction.
type decoded struct {
	in      isa.Inst
	values  isa.Values
	effects isa.Effects
	kind    byte // see kindAt
}

// mark is the place of a statement of the source.
type mark struct {
	addr uint32
	id   int
}

// linker makes builds.
type linker struct {
	t    testing.TB
	dir  string
	stub map[string]string
}

func newLinker(t testing.TB) *linker {
	reftest.Require(t, "arm-none-eabi-as", "arm-none-eabi-ld")
	return &linker{t: t, dir: t.TempDir(), stub: map[string]string{}}
}

func (l *linker) run(name string, args ...string) error {
	cmd := osexec.Command(name, args...)
	cmd.Dir = l.dir
	out, err := cmd.CombinedOutput()
	if err != nil {
		return fmt.Errorf("%s: %s", name, bytes.TrimSpace(out))
	}
	return nil
}

// behindHole and up are the places where holes end.
const behindHole = 1 << 20

// place is a statement of a text.
type place struct{ off, id int }

// sizedPlaces are the statements of the root file that have a size, in order.
func sizedPlaces(r *Result) (list []place) {
	for i := range r.prog.Items {
		it := &r.prog.Items[i]
		if it.File != 0 {
			continue
		}
		switch {
		case it.Stmt.Kind == syntax.Instruction:
		case it.Stmt.Kind == syntax.Directive && (it.Stmt.Directive.Effect == syntax.EffData || it.Stmt.Directive.Effect == syntax.EffString):
		default:
			continue
		}
		off := r.prog.File.LineStart(int(it.Line)) + int(it.Stmt.Start)
		if n := len(list); n > 0 && list[n-1].off >= off {
			continue
		}
		list = append(list, place{off, int(it.Index)})
	}
	return list
}

// after are the places in what edits make of a text. A statement that is changed has
// none, and one in front of which something is put begins with that. The place behind a
// hole is behind what an edit makes of it, also where the edit goes on to the next line.
func after(text string, list []place, edits []finding.Edit) (out []place) {
	edits = slices.Clone(edits)
	slices.SortStableFunc(edits, func(a, b finding.Edit) int { return a.Span.Start - b.Span.Start })
	shift, k := 0, 0
	for i, p := range list {
		for k < len(edits) && edits[k].Span.End <= p.off {
			if at := edits[k].Span.Start; p.id < behindHole && at == edits[k].Span.End && strings.TrimLeft(text[at:p.off], " \t") == "" {
				break
			}
			shift += len(edits[k].New) - (edits[k].Span.End - edits[k].Span.Start)
			k++
		}
		if k < len(edits) && edits[k].Span.Start <= p.off {
			if e := &edits[k]; e.Span.End > p.off {
				if p.id >= behindHole && (i+1 == len(list) || list[i+1].off >= e.Span.End) {
					new := strings.TrimRight(e.New, " \t\r\n")
					out = append(out, place{e.Span.Start + shift + len(new), p.id})
				}
				continue
			}
			out = append(out, place{edits[k].Span.Start + shift, p.id})
			continue
		}
		out = append(out, place{p.off + shift, p.id})
	}
	return out
}

// marked puts labels at the places.
func marked(text string, list []place) string {
	var b strings.Builder
	last := 0
	for _, p := range list {
		b.WriteString(text[last:p.off])
		if p.id >= behindHole {
			b.WriteByte('\n')
		}
		fmt.Fprintf(&b, ".Lngm%d: ", p.id)
		last = p.off
	}
	b.WriteString(text[last:])
	return b.String()
}

// build assembles and links a text with labels at the places. Its error says what the
// tools do not take.
func (l *linker) build(text string, list []place, flags []string, have isa.Features) (*build, error) {
	if err := os.WriteFile(filepath.Join(l.dir, "in.s"), []byte(marked(text, list)), 0o644); err != nil {
		l.t.Fatal(err)
	}
	if err := l.run("arm-none-eabi-as", append(slices.Clone(flags), "--keep-locals", "-o", "in.o", "in.s")...); err != nil {
		return nil, err
	}
	o, err := elf.Open(filepath.Join(l.dir, "in.o"))
	if err != nil {
		l.t.Fatal(err)
	}
	syms, _ := o.Symbols()
	o.Close()
	b := &build{symbols: map[string]elf.Symbol{}, holes: map[uint32]*hole{}, have: have}
	thumb := have&isa.FeatA32 == 0
	for _, s := range syms {
		if s.Section == elf.SHN_UNDEF && s.Name != "" {
			b.other = append(b.other, s.Name)
		}
		thumb = thumb || s.Name == "$t"
	}
	slices.Sort(b.other)
	args := []string{"-e", "0", "--no-warn-mismatch", "-o", "out.elf", fmt.Sprintf("-Ttext=%#x", arenaCode), fmt.Sprintf("-Tdata=%#x", arenaData), fmt.Sprintf("-Tbss=%#x", arenaData+0x10000), fmt.Sprintf("--section-start=.others=%#x", arenaOther), "in.o"}
	if len(b.other) > 0 {
		stub, err := l.others(b.other, thumb)
		if err != nil {
			return nil, err
		}
		args = append(args, stub)
	}
	if err := l.run("arm-none-eabi-ld", args...); err != nil {
		return nil, err
	}
	if err := b.read(filepath.Join(l.dir, "out.elf")); err != nil {
		return nil, err
	}
	order := map[int]int{} // of places at one address
	for i, p := range list {
		order[p.id] = i
	}
	sort.SliceStable(b.marks, func(i, k int) bool {
		x, y := b.marks[i], b.marks[k]
		return x.addr < y.addr || x.addr == y.addr && order[x.id] < order[y.id]
	})
	return b, nil
}

// others makes an object of the routines of other files.
func (l *linker) others(names []string, thumb bool) (string, error) {
	key := fmt.Sprint(thumb, names)
	if l.stub[key] == "" {
		var b strings.Builder
		b.WriteString("\t.syntax unified\n\t.section .others,\"ax\",%progbits\n")
		mode := "\t.arm\n"
		if thumb {
			mode = "\t.thumb\n"
		}
		for _, n := range names {
			fmt.Fprintf(&b, "\t.balign 16\n%s\t.global \"%s\"\n\t.type \"%s\", %%function\n\"%s\": bx lr\n", mode, n, n, n)
		}
		name := fmt.Sprintf("others%d", len(l.stub))
		if err := os.WriteFile(filepath.Join(l.dir, name+".s"), []byte(b.String()), 0o644); err != nil {
			l.t.Fatal(err)
		}
		if err := l.run("arm-none-eabi-as", "-march=armv4t", "-o", name+".o", name+".s"); err != nil {
			return "", err
		}
		l.stub[key] = name + ".o"
	}
	return l.stub[key], nil
}

func (b *build) read(path string) error {
	f, err := elf.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	for _, s := range f.Sections {
		if s.Flags&elf.SHF_ALLOC == 0 || s.Addr < arenaCode || s.Addr >= arenaOther || s.Type == elf.SHT_NOBITS {
			continue
		}
		data, err := s.Data()
		if err != nil {
			return err
		}
		if n := int(s.Addr-arenaCode) + len(data); n > len(b.flat) {
			b.flat = append(b.flat, make([]byte, n-len(b.flat))...)
		}
		copy(b.flat[s.Addr-arenaCode:], data)
		if s.Flags&elf.SHF_EXECINSTR != 0 {
			b.size = max(b.size, uint32(s.Addr+s.Size-arenaCode))
		}
	}
	syms, _ := f.Symbols()
	for _, s := range syms {
		switch {
		case strings.HasPrefix(s.Name, ".Lngm"):
			var id int
			fmt.Sscanf(s.Name, ".Lngm%d", &id)
			b.marks = append(b.marks, mark{uint32(s.Value) &^ 1, id})
		case len(s.Name) == 2 && s.Name[0] == '$':
			b.kinds = append(b.kinds, mark{uint32(s.Value), int(s.Name[1])})
		case s.Section != elf.SHN_UNDEF && s.Name != "":
			b.symbols[s.Name] = s
		}
	}
	sort.SliceStable(b.kinds, func(i, j int) bool { return b.kinds[i].addr < b.kinds[j].addr })
	return nil
}

// addr is where a statement is.
func (b *build) addr(id int) (uint32, bool) {
	for _, m := range b.marks {
		if m.id == id {
			return m.addr, true
		}
	}
	return 0, false
}

// from is the place of a statement that is at an address in another build.
func (b *build) from(other *build, addr uint32) (uint32, bool) {
	for _, m := range other.marks {
		if m.addr == addr {
			return b.addr(m.id)
		}
	}
	if other.holes[addr] != nil { // a hole has no mark
		for at := range b.holes {
			return at, true
		}
	}
	return 0, false
}

// view is a value without what the layout makes of it: an address in the program is its
// statement and the distance from it; the second time that of the statement in front of
// it, whose end it may be; and the third time the first of several places at one address,
// which padding may divide.
type view [3]uint64

// is says whether two views are of the same value.
func (v view) is(w view) bool {
	if v[0] == w[0] || v[1] == w[1] || v[2] == w[2] {
		return true
	}
	// Far from a statement of the source, as what a macro makes is: there the layout may
	// have put padding.
	a, b := uint32(v[0]), uint32(w[0])
	return v[0]>>63 != 0 && v[0]>>32 == w[0]>>32 && a >= 8 && b >= 8 && a-b+16 <= 32
}

func (b *build) view(v uint32) view {
	if v-arenaCode >= b.size {
		return viewOf(v)
	}
	from := func(below uint32, first bool) uint64 {
		i := sort.Search(len(b.marks), func(i int) bool { return b.marks[i].addr > below })
		if i == 0 || v-b.marks[i-1].addr > 0x1000 {
			return uint64(v)
		}
		for i--; first && i > 0 && b.marks[i-1].addr == b.marks[i].addr; {
			i--
		}
		return 1<<63 | uint64(b.marks[i].id)<<32 | uint64(v-b.marks[i].addr)
	}
	return view{from(v, false), from(v&^1-1, false), from(v, true)}
}

// viewOf is a value as it is.
func viewOf(v uint32) view { return view{uint64(v), uint64(v), uint64(v)} }

// view is a value without what the layout makes of it, or with that, where the layouts are
// the same.
func (r *bout) view(v uint32) view {
	if r.raw {
		return viewOf(v)
	}
	return r.b.view(v)
}

// same is the first view.
func (r *bout) same(v uint32) uint64 { return r.view(v)[0] }

// space is memory without an end: the program, and what a seed gives.
type space struct {
	pages map[uint32]*page // what was looked at or stored, by the address without its last byte
	last  *page            // the one at lastAt
	at    uint32
	b     *build
	seed  uint32
	back  uint32
}

// page is a piece of memory, of which is what is known.
type page struct {
	bytes [256]byte
	is    [4]uint64
}

func newSpace(b *build, seed uint32) *space {
	return &space{pages: map[uint32]*page{}, b: b, seed: seed}
}

func (m *space) page(addr uint32) *page {
	if k := addr >> 8; m.last == nil || m.at != k {
		if m.last, m.at = m.pages[k], k; m.last == nil {
			m.last = new(page)
			m.pages[k] = m.last
		}
	}
	return m.last
}

// Load is the byte at an address.
func (m *space) Load(addr uint32) byte {
	p, i := m.page(addr), addr&255
	if p.is[i>>6]>>(i&63)&1 == 0 {
		p.bytes[i] = m.first(addr)
		p.is[i>>6] |= 1 << (i & 63)
	}
	return p.bytes[i]
}

// Store keeps a byte.
func (m *space) Store(addr uint32, b byte) {
	p, i := m.page(addr), addr&255
	p.bytes[i] = b
	p.is[i>>6] |= 1 << (i & 63)
}

func (m *space) first(addr uint32) byte {
	if n := addr - arenaCode; n < uint32(len(m.b.flat)) {
		return m.b.flat[n]
	}
	x := (addr>>2 ^ m.seed) * 0x9e3779b1
	x = (x ^ x>>15) * 0x85ebca77
	x ^= x >> 13
	switch {
	case addr-arenaStack < 0x1000 && x>>31 != 0: // a way back, for what has begun in the middle of a routine
		x = m.back
	case x>>29 < 2: // a pointer
		x = 0x2000_0000 + x&0xffffc
	case x>>29 == 2:
		x &= 0x3f
	case x>>29 < 5: // text with an end
		x &= 0x00ffffff
	}
	return byte(x >> (8 * (addr & 3)))
}

// event is something that others can see.
type event struct {
	what string
	regs [16]view
	last uint32 // sp
	// above is what is on the stack from sp up.
	above  [128]byte
	nobody [32]bool // of the words of above: see bout
}

// half says whether two stores are those of a pair of words, whose order no manual
// promises (DDI 0406C, A3.5.3: STRD is two accesses).
func (e *event) half(next *event) bool {
	d := int64(e.regs[0][0]) - int64(next.regs[0][0])
	return e.what == "store 4" && next.what == e.what && (d == 4 || d == -4)
}

func (e *event) String() string {
	var b strings.Builder
	b.WriteString(e.what)
	for i, x := range e.regs {
		v := x[0]
		if v == 0 {
			continue
		}
		if v>>63 != 0 {
			fmt.Fprintf(&b, " %s=#%d+%d", isa.Reg(i), uint32(v>>32)&0x7fffffff, uint32(v))
		} else {
			fmt.Fprintf(&b, " %s=%#x", isa.Reg(i), v)
		}
	}
	return b.String()
}

// bout is one run.
type bout struct {
	b      *build
	s      exec.State
	mem    *space
	events []event
	end    string // return, limit, or why it got no further
	met    int    // how often a hole was
	seen   int    // of the log
	path   []uint32
	// nobody are words that have been below the stack pointer and not been stored since:
	// they may hold anything (AAPCS32, 6.2.1.1).
	nobody map[uint32]bool
	low    uint32 // sp before the instruction
	// placed: an instruction has made an address of PC.
	placed bool
	raw    bool   // addresses count as they are
	index  uint32 // what r0 is at most where a table is looked up by it; 0: anything
}

// belowStack is how many bytes below the stack pointer a rewrite may use for a moment: no
// program may count on what it stores there (AAPCS32, 6.2.1.1).
const belowStack = 64

// onStack says whether an address is one of the stack, wherever that is now. What one access
// reaches from the stack pointer, 4095 bytes, is so also when a rewrite has pushed something.
func (r *bout) onStack(a uint32) bool { return a-(r.s.Regs[13]-0x1000) < 0x2400 }

func (r *bout) note(what string, regs isa.RegList) {
	e := event{what: what, last: r.s.Regs[13]}
	for i := range 16 {
		if regs.Has(isa.Reg(i)) {
			e.regs[i] = r.view(r.s.Regs[i])
		}
	}
	for n := range uint32(len(e.above)) {
		e.above[n] = r.mem.Load(e.last + n)
	}
	if len(r.nobody) > 0 {
		for n := range uint32(len(e.nobody)) {
			e.nobody[n] = r.nobody[e.last/4+n]
		}
	}
	r.events = append(r.events, e)
}

// accesses notes what has been stored outside of the stack. It says why the run cannot go
// on: what it has read is nobody's or code, or the stack pointer is no multiple of 4.
func (r *bout) accesses() string {
	sp := r.s.Regs[13]
	for a := sp / 4; a < r.low/4 && r.low-sp < 0x2000; a++ {
		r.nobody[a] = true
	}
	r.low = sp
	for ; r.seen < len(r.s.Log); r.seen++ {
		a := r.s.Log[r.seen]
		if !a.Store && a.Addr-arenaCode < r.b.size && a.Value-arenaCode < r.b.size {
			r.placed = true
		}
		for n := range uint32(a.Size) { // a load may begin in data, and end in code
			if !a.Store && a.Addr+n-arenaCode < r.b.size && r.b.kindAt(a.Addr+n) != 'd' {
				return codeForData
			}
		}
		if a.Store && sp-a.Addr-1 < belowStack {
			return "nobody's" // an interrupt may store there as well
		}
		if w := a.Addr / 4; a.Store {
			delete(r.nobody, w)
		} else if len(r.nobody) > 0 && r.nobody[w] {
			return "nobody's"
		}
		if a.Store && !r.onStack(a.Addr) {
			r.events = append(r.events, event{what: fmt.Sprintf("store %d", a.Size), regs: [16]view{r.view(a.Addr), r.view(a.Value)}})
		}
		if a.Store && r.b.overwrites(a.Addr) {
			return "stores into code"
		}
	}
	if sp&3 != 0 {
		return "stack pointer"
	}
	return ""
}

// overwrites says whether what is stored at an address changes the program: code, or a word
// of a literal pool, which no statement of the source is in front of.
func (b *build) overwrites(addr uint32) bool {
	if addr-arenaCode >= b.size {
		return false
	}
	i := sort.Search(len(b.marks), func(i int) bool { return b.marks[i].addr > addr })
	return b.kindAt(addr) != 'd' || i == 0 || b.kindAt(b.marks[i-1].addr) != 'd'
}

// codeForData is the end of a run that has read code.
const codeForData = "code for data"

const allRegs isa.RegList = 1<<15 - 1

// mix makes a number of numbers.
func mix(list ...uint64) uint32 {
	h := uint64(0x9e3779b97f4a7c15)
	for _, x := range list {
		h = (h ^ x) * 0xff51afd7ed558ccd
		h ^= h >> 32
	}
	return uint32(h)
}

// call is a routine of another file, of which only the procedure call standard is
// known: it changes r0 to r3, r12, lr and the flags (AAPCS32, 6.1.1), and returns.
func (r *bout) call() {
	s := &r.s
	n := int(s.Regs[15]-arenaOther) / 16
	name := "?"
	if n < len(r.b.other) {
		name = r.b.other[n]
	}
	r.note("call "+name, allRegs&^(1<<12)) // r12 is the linker's (AAPCS32, 6.1.1)
	h := mix(uint64(len(name)), uint64(n), r.same(s.Regs[0]), r.same(s.Regs[1]), r.same(s.Regs[2]), r.same(s.Regs[3]), uint64(len(r.events)))
	for _, i := range []int{0, 1, 2, 3, 12} {
		h = mix(uint64(h), uint64(i))
		s.Regs[i] = h &^ 3
		if h&0x30 == 0 {
			s.Regs[i] = h >> 28
		}
	}
	s.Flags = isa.Flags(h>>8) & isa.NZCV
	s.Q, s.GE = h>>12&1 != 0, uint8(h>>13&15)
	s.IT = 0
	r.jump(s.Regs[14])
}

// jump goes to an address that bit 0 says the instruction set of.
func (r *bout) jump(v uint32) {
	r.s.Set = isa.A
	if v&1 != 0 || r.b.have&isa.FeatA32 == 0 {
		r.s.Set = isa.T
	}
	r.s.Regs[15] = v &^ 1
}

// inst is what is at an address of the program.
func (b *build) inst(pc uint32, set isa.State) *decoded {
	n := int(pc-arenaCode) / 2
	if b.decoded[set] == nil {
		b.decoded[set] = make([]*decoded, len(b.flat)/2+1)
	}
	if d := b.decoded[set][n]; d != nil {
		return d
	}
	half := func(at int) uint16 {
		if at+2 > len(b.flat) {
			return 0
		}
		return binary.LittleEndian.Uint16(b.flat[at:])
	}
	var ok bool
	d := &decoded{kind: b.kindAt(pc)}
	if set == isa.A {
		d.in, ok = isa.DecodeA32(b.have, uint32(half(2*n))|uint32(half(2*n+2))<<16)
	} else {
		d.in, ok = isa.Decode(b.have, half(2*n), half(2*n+2))
	}
	if !ok || d.in.Row == nil {
		d.in = isa.Inst{}
	} else {
		d.values, d.effects = d.in.Values(), d.in.Effects()
	}
	b.decoded[set][n] = d
	return d
}

// run carries out the program from where the state is.
func (r *bout) run(limit int) {
	s := &r.s
	var inside [][2]uint32 // of holes
	for at, h := range r.b.holes {
		if !h.real {
			inside = append(inside, [2]uint32{at, at + h.size})
		}
	}
	for range limit {
		pc := s.Regs[15]
		if len(r.path) < 60 {
			r.path = append(r.path, pc)
		}
		switch {
		case pc == arenaEnd:
			r.note("return", allRegs)
			r.end = "return"
			return
		case pc-arenaOther < 0x8000:
			r.call()
			continue
		case pc-arenaCode >= uint32(len(r.b.flat)):
			r.end = "astray"
			return
		}
		h := r.b.holes[pc]
		if h != nil {
			r.met++
		}
		if slices.ContainsFunc(inside, func(p [2]uint32) bool { return p[0] < pc && pc < p[1] }) {
			r.end = "inside"
			return
		}
		if h != nil && h.real {
			if !h.means(s, r.b) {
				if d := r.b.inst(pc, s.Set); d.in.Row != nil {
					s.Regs[15] += uint32(d.in.Row.Size())
				}
				continue
			}
		} else if h != nil {
			if !r.hole(h) {
				r.end = "meaning"
				return
			}
			if r.end = r.accesses(); r.end != "" {
				return
			}
			continue
		}
		d := r.b.inst(pc, s.Set)
		if d.in.Row == nil || (d.kind == 't') != (s.Set == isa.T) || d.kind == 'd' {
			r.end = "no code"
			return
		}
		e := &d.effects
		if e.Reads.Has(isa.PC) && !e.ReadsMem && !e.Writes.Has(isa.PC) {
			r.placed = true
		}
		if r.index > 0 && e.Reads.Has(isa.PC) && e.Reads.Has(0) && e.Writes.Has(isa.PC) && s.Regs[0] > r.index {
			r.end = "past the table"
			return
		}
		res := exec.Step(d.values, s)
		switch {
		case res.End == exec.Trapped:
			r.note(fmt.Sprintf("trap %d %d", res.Trap, res.Number), allRegs)
			h := mix(uint64(len(r.events)), uint64(s.Regs[0]))
			s.Regs[0], s.Flags = h, isa.Flags(h>>8)&isa.NZCV
		case res.End != exec.Done:
			r.end = res.End.String()
			return
		}
		if r.end = r.accesses(); r.end != "" {
			return
		}
	}
	r.end = "limit"
}

// hole carries out what a statement means.
func (r *bout) hole(h *hole) bool {
	s := &r.s
	pc := s.Regs[15]
	cond := h.cond
	if s.Set == isa.T && s.IT != 0 {
		cond = isa.Cond(s.IT >> 4)
		if s.IT&7 == 0 {
			s.IT = 0
		} else {
			s.IT = s.IT&0xe0 | s.IT<<1&0x1f
		}
	}
	s.Regs[15] = pc + h.size
	m := cpu{}
	toCPU(s, &m)
	if !h.always && !m.holds(cond) {
		return true
	}
	return h.means(s, r.b)
}

// toCPU copies registers and flags.
func toCPU(s *exec.State, m *cpu) {
	copy(m.r[:], s.Regs[:])
	m.n, m.z, m.c, m.v = s.Flags&isa.N != 0, s.Flags&isa.Z != 0, s.Flags&isa.C != 0, s.Flags&isa.V != 0
}

func fromCPU(m *cpu, s *exec.State) {
	copy(s.Regs[:], m.r[:])
	s.Flags = 0
	for _, x := range []struct {
		on  bool
		bit isa.Flags
	}{{m.n, isa.N}, {m.z, isa.Z}, {m.c, isa.C}, {m.v, isa.V}} {
		if x.on {
			s.Flags |= x.bit
		}
	}
}

// carry is what a statement with any constant and any register means.
func (x *stm) carry(s *exec.State, b *build) bool {
	m := cpu{space: s.Mem}
	toCPU(s, &m)
	y := *x
	y.cond = isa.AL
	next := m.r[15]
	m.r[15] = next | 1 // what is written there is seen
	y.exec(&m)
	if m.unaligned {
		return false // rotated, or a fault, or not
	}
	for _, a := range m.loads {
		s.Log = append(s.Log, exec.Access{Addr: a.addr, Size: uint8(a.size), Value: a.value})
	}
	for _, a := range m.stores {
		s.Log = append(s.Log, exec.Access{Addr: a.addr, Size: uint8(a.size), Store: true, Value: a.value})
	}
	pc := m.r[15]
	m.r[15] = next
	fromCPU(&m, s)
	if pc == next|1 {
		return true
	}
	// A load of pc changes the instruction set from ARMv5T on (DDI 0100I, A4, "LDR" and "POP").
	if b.have.Has(isa.FeatV5T) {
		s.Set = isa.A
		if pc&1 != 0 {
			s.Set = isa.T
		} else if b.have&isa.FeatA32 == 0 {
			return false
		}
	} else if s.Set == isa.A && pc&3 != 0 {
		return false
	}
	s.Regs[15] = pc &^ 1
	return true
}

// start makes a state for a run.
func (b *build) start(g *rand.Rand, at uint32, set isa.State, seed uint32) *bout {
	r := &bout{b: b, mem: newSpace(b, seed), nobody: map[uint32]bool{}}
	s := &r.s
	s.Set, s.Have, s.Mem = set, b.have, r.mem
	for i := range s.Regs[:13] {
		switch g.IntN(8) {
		case 0:
			s.Regs[i] = edges[g.IntN(len(edges))]
		case 1, 2:
			s.Regs[i] = uint32(g.IntN(70))
		case 3, 4, 5:
			s.Regs[i] = 0x2000_0000 + uint32(g.IntN(0x4000))*4
		default:
			s.Regs[i] = g.Uint32()
		}
	}
	s.Regs[13] = arenaStack + uint32(g.IntN(64))*8
	s.Regs[14] = arenaEnd
	if set == isa.T {
		s.Regs[14] |= 1
	}
	r.mem.back = s.Regs[14]
	s.Regs[15] = at
	s.Flags = isa.Flags(g.IntN(16))
	r.low = s.Regs[13]
	return r
}

// tell says what the first difference between two runs is, empty without one. skip are
// registers that are not looked at in the end.
//
// values says that both do the same, and only numbers differ.
func tell(want, got *bout) (differ string, values bool) {
	n := min(len(want.events), len(got.events))
	for i := range n {
		a, b := &want.events[i], &got.events[i]
		if i+1 < n && a.half(&want.events[i+1]) && b.regs[0] != a.regs[0] {
			got.events[i], got.events[i+1] = got.events[i+1], got.events[i]
		}
		if a.what == b.what && slices.EqualFunc(a.regs[:], b.regs[:], view.is) && a.last == b.last && sameStack(want, got, a, b) {
			continue
		}
		return fmt.Sprintf("event %d: %s, not %s; sp %x, not %x, stack %v", i, b, a, b.last, a.last, sameStack(want, got, a, b)), a.what == b.what && a.last == b.last
	}
	switch {
	case got.end == exec.NotModelled.String():
	case want.end == "return" && (len(got.events) > n || got.end != "return"),
		len(want.events) > n && got.end != "limit":
		return fmt.Sprintf("ends (%s, not %s) after %d events, not %d", got.end, want.end, len(got.events), len(want.events)), got.end == codeForData
	}
	return "", true
}

// strays says whether one of the runs has loaded from an address that only the layout
// makes another one in the other, as behind the end of a table in the code: what is
// there is not the same.
func strays(want, got *bout) bool {
	if !want.placed {
		return false
	}
	read := map[uint32]uint32{}
	for _, a := range got.s.Log {
		if !a.Store {
			read[a.Addr] = a.Value
		}
	}
	shifts := map[uint32]bool{}
	for _, m := range want.b.marks {
		if a, ok := got.b.addr(m.id); ok && a != m.addr {
			shifts[a-m.addr] = true
		}
	}
	for _, a := range want.s.Log {
		if a.Store {
			continue
		}
		v, same := read[a.Addr]
		if a.Addr-arenaCode < want.b.size {
			if same && v != a.Value && a.Size < 4 {
				return true
			}
			continue
		}
		for d := range shifts {
			if _, ok := read[a.Addr+d]; ok && !same {
				return true
			}
		}
	}
	return false
}

// sameStack says whether both stacks hold the same.
func sameStack(want, got *bout, a, b *event) bool {
	for i := 0; i+4 <= len(a.above); i += 4 {
		x, y := binary.LittleEndian.Uint32(a.above[i:]), binary.LittleEndian.Uint32(b.above[i:])
		if x != y && !a.nobody[i/4] && !want.view(x).is(got.view(y)) {
			return false
		}
	}
	return true
}

// pair are the two builds of a source with its rewrites.
type pair struct {
	want, got *build
	fixed     string
	counted   bool // the source counts distances
}

// kindAt is the kind of what is at an address: 'a', 't', 'd' or 0.
func (b *build) kindAt(addr uint32) byte {
	i := sort.Search(len(b.kinds), func(i int) bool { return b.kinds[i].addr > addr })
	if i == 0 {
		return 0
	}
	return byte(b.kinds[i-1].id)
}

// setAt is the instruction set at an address.
func (b *build) setAt(addr uint32) isa.State {
	if b.kindAt(addr) == 't' {
		return isa.T
	}
	return isa.A
}

// both builds the text with its holes and the text after the edits.
func (l *linker) both(r *Result, text string, holes []hole, edits []finding.Edit, flags []string, have isa.Features) (*pair, error) {
	list := sizedPlaces(r)
	var fills []finding.Edit
	at := map[int]int{} // hole by the place's offset
	for i, h := range holes {
		fills = append(fills, finding.Edit{Span: finding.Span{Start: h.start, End: h.end}, New: h.fill})
		at[h.start] = i
		list = append(list, place{h.end, behindHole + i})
	}
	slices.SortStableFunc(list, func(a, b place) int { return a.off - b.off })
	// Labels stay at the holes: the fill is put in after them.
	shifted, k, shift := []place{}, 0, 0
	hid := map[int]int{}
	for _, p := range list {
		for k < len(fills) && fills[k].Span.End <= p.off {
			shift += len(fills[k].New) - (fills[k].Span.End - fills[k].Span.Start)
			k++
		}
		if i, ok := at[p.off]; ok {
			hid[p.id] = i
		}
		shifted = append(shifted, place{p.off + shift, p.id})
	}
	want, err := l.build(apply(text, fills), shifted, flags, have)
	if err != nil {
		return nil, fmt.Errorf("with holes: %w", err)
	}
	fixed, got := apply(text, edits), want
	if len(edits) > 0 {
		if got, err = l.build(fixed, after(text, list, edits), flags, have); err != nil {
			return nil, fmt.Errorf("after: %w", err)
		}
	}
	// Only what both have is a mark.
	in := map[int]bool{}
	for _, m := range got.marks {
		in[m.id] = true
	}
	var kept []mark
	for _, m := range want.marks {
		if i, ok := hid[m.id]; ok {
			want.holes[m.addr+holes[i].lead] = &holes[i]
		}
		if in[m.id] {
			kept = append(kept, m)
		}
	}
	want.marks = kept
	if len(want.holes) != len(holes) {
		return nil, fmt.Errorf("%d holes of %d found", len(want.holes), len(holes))
	}
	return &pair{want: want, got: got, fixed: fixed}, nil
}

// padded builds the program with its holes once more, the hole as long as what the
// rewrites have made of it: what differs between the two holds numbers that depend on
// the layout. pooled is how many words pools have more then. It is nil where that cannot be done.
func (l *linker) padded(r *Result, text string, h hole, p *pair, flags []string, have isa.Features, pooled int) *build {
	var at uint32
	for a := range p.want.holes {
		at = a
	}
	before := mark{arenaCode, -1}
	for _, m := range p.want.marks {
		if m.addr < at {
			before = m
		}
		if m.addr <= at {
			continue
		}
		from, ok := p.got.addr(before.id)
		if before.id < 0 {
			from, ok = arenaCode, true
		}
		to, ok2 := p.got.addr(m.id)
		grown := int(to-from) - int(m.addr-before.addr)
		n := 2
		if p.want.setAt(at) == isa.A {
			n = 4
		}
		if grown == 0 && pooled == 1 && !h.real && int(h.size) == n { // only a pool is longer
			h.fill = fmt.Sprintf("ldr r0, =%#x", 0x7e57_0102)
		} else if grown <= 0 {
			return nil
		}
		if !ok || !ok2 || grown > 64 {
			return nil
		}
		// Words that the rewrites have put into pools are there, too; nothing loads them.
		pad := ""
		for i := range grown / n {
			if i < pooled {
				pad += fmt.Sprintf("\n\tldr r0, =%#x", 0x7e57_0102+i)
			} else {
				pad += "\n\tmov r8, r8"
			}
		}
		if h.real { // in front of it, for the sake of what it may leave in lr
			if pooled > 0 {
				return nil
			}
			h.fill = strings.Repeat("mov r8, r8\n\t", grown/n) + h.fill
			h.lead = uint32(grown)
		} else {
			h.fill += pad
			h.size += uint32(grown)
		}
		q, err := l.both(r, text, []hole{h}, nil, flags, have)
		if err != nil {
			return nil
		}
		known := map[int]bool{}
		for _, m := range p.want.marks {
			known[m.id] = true
		}
		q.want.marks = slices.DeleteFunc(q.want.marks, func(m mark) bool { return !known[m.id] })
		return q.want
	}
	return nil
}

// itemSize is the size that a statement counts for.
func itemSize(it *program.Item) uint32 { return uint32(it.Size) }
