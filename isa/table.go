package isa

import (
	"runtime"
	"slices"
	"strings"
	"sync"
)

// Mnemonic is a name of the source language with the forms that it may take.
// Names are lower case, without the width suffixes .n and .w.
type Mnemonic struct {
	Name  string
	Forms []*Form // in Thumb state, in order of preference
	cond  Cond    // in Thumb state: the condition in the name, else AL
	spelt bool    // and it is written
	// open are features that bring the name to Thumb state, although no form
	// describes it: with all of them, what is written with it is not looked at.
	open Features

	arm reading // what it is in A32 code
}

// table is everything that is derived from rows with forms whose names begin alike;
// it never changes once built.
type table struct {
	stems  map[string]*stem
	byName map[string]*Mnemonic
}

// rowSet is the rows of a part of the instruction sets, of which only those are
// compiled whose names are asked for: each process waits at its start for what it
// needs, and a program needs few.
type rowSet struct {
	thumb, a32 []*Row // of Thumb state, and of A32
	groups     []*group
	at         [maxGroup]uint8 // by groupOf: the group's index in groups and one more
}

// group is the rows with a form whose name begins with the same letters, and their
// table. A row may be in several.
type group struct {
	rows, rowsA32 []*Row
	others        []string // names of ARMv8.1-M that no row has: see Checked
	begins        int
	once          sync.Once
	built         *table
}

// Two sets, as most programs have no floating point.
var (
	integers = sync.OnceValue(newIntegers)
	vectors  = sync.OnceValue(newVectors)
)

func newIntegers() *rowSet {
	var a32 []*Row
	var wait sync.WaitGroup
	wait.Go(func() { a32 = rowsA32() })
	rows := slices.Concat(rowsT16(), rowsT32Data(), rowsT32Media(), rowsT32System(), rowsT32Memory())
	wait.Wait()
	x := newRowSet(rows, a32)
	x.divide(strings.Fields(namesV81M))
	return x
}

// Prepare makes what nearly every source needs of the tables, beside what the caller does
// meanwhile.
func Prepare() {
	go func() {
		for _, name := range [...]string{"ldr", "str", "mov", "add", "cmp", "b", "sub"} {
			tableOf(name)
		}
	}()
}

// divide puts the rows into groups, and with them names that none has.
func (x *rowSet) divide(others []string) {
	of := func(begins int) *group {
		if x.at[begins] == 0 {
			x.groups = append(x.groups, &group{begins: begins})
			if x.at[begins] = uint8(len(x.groups)); int(x.at[begins]) != len(x.groups) {
				panic("isa: there are more groups than a byte counts")
			}
		}
		return x.groups[x.at[begins]-1]
	}
	for _, r := range x.thumb {
		for _, begins := range r.groups() {
			g := of(begins)
			g.rows = append(g.rows, r)
		}
	}
	for _, r := range x.a32 {
		for _, begins := range r.groups() {
			g := of(begins)
			g.rowsA32 = append(g.rowsA32, r)
		}
	}
	for _, n := range others {
		g := of(groupOf(n))
		g.others = append(g.others, n)
	}
}

func newVectors() *rowSet {
	a := slices.Concat(rowsVFP(), rowsSIMD(), rowsConstants(), rowsElements(), rowsLater())
	rows := lazyT32()
	for _, r := range a {
		rows = append(rows, r.compact())
	}
	x := newRowSet(rows, a)
	x.divide([]string{"vscclrm"})
	return x
}

func newRowSet(rows, rowsA32 []*Row) *rowSet {
	once := make([]sync.Once, len(rows)+len(rowsA32))
	for i, r := range rows {
		r.State, r.once = T, &once[i]
	}
	for i, r := range rowsA32 {
		r.State, r.once = A, &once[len(rows)+i]
	}
	restLast(rows)
	restLast(rowsA32)
	return &rowSet{thumb: rows, a32: rowsA32}
}

// groupOf gives the group of a name in [rowSet.at], by its first letters, so many that no
// condition takes them apart: two, but one of most that begin with a B, and three of loads and
// stores and of what begins with a V. Loads and stores for exclusive access are groups of their
// own. Names that begin otherwise than with letters are in a group that has no rows.
func groupOf(name string) int {
	letter := func(i int) int {
		if i < len(name) && 'a' <= name[i] && name[i] <= 'z' {
			return int(name[i]-'a') + 1
		}
		return 0
	}
	const letters = 1 << 5
	switch first, second := letter(0), letter(1); {
	case first == 'b'-'a'+1 && (second == 0 || strings.IndexByte("fikx", name[1]) < 0):
		return first * letters
	case first == 'v'-'a'+1:
		return letters*letters + second*letters + letter(2)
	case strings.HasPrefix(name, "ld"), strings.HasPrefix(name, "st"):
		third := letter(2)
		if rest := name[2:]; strings.HasPrefix(rest, "rex") || len(rest) > 4 && rest[3:5] == "ex" && condWord(rest[1], rest[2]) >= 0 {
			third = letters - 1
		}
		return 2*letters*letters + first/('s'-'a')*letters + third
	default:
		return first*letters + second
	}
}

// maxGroup is above all that groupOf gives.
const maxGroup = 2<<10 + 2<<5

// groups lists the groups of the names of a row that is not compiled yet.
func (r *Row) groups() (list []int) {
	for line := range strings.SplitSeq(strings.TrimSpace(r.Forms), "\n") {
		for word := range strings.FieldsSeq(line) {
			if strings.IndexByte("~[{", word[0]) >= 0 || word == "u" || word == "d" {
				continue // a mark
			}
			if n := groupOf(word); !slices.Contains(list, n) {
				list = append(list, n)
			}
			break
		}
	}
	return list
}

// table gives the table of the group.
func (g *group) table() *table {
	g.once.Do(func() { g.built = g.build() })
	return g.built
}

// tables compiles all rows, and lists the tables with them.
func (x *rowSet) tables() []*table {
	compileAll(slices.Concat(x.thumb, x.a32))
	var list []*table
	for _, g := range x.groups {
		list = append(list, g.table())
	}
	return list
}

var noTable = &table{}

// tableOf is the table that has a name, if one has: those of floating point
// and vectors start with a V, older ones with an F, and some have the name of
// what they compute.
func tableOf(name string) *table {
	set := integers
	if name != "" && name[0] == 'f' || typedName(name) {
		set = vectors
	}
	x := set()
	if i := x.at[groupOf(name)]; i != 0 {
		return x.groups[i-1].table()
	}
	return noTable
}

// typedName says whether a name is one of those that types are after.
func typedName(name string) bool {
	if name == "" {
		return false
	}
	switch name[0] {
	case 'v':
		return true
	case 'a':
		return strings.HasPrefix(name, "aes")
	case 's':
		return strings.HasPrefix(name, "sha1") || strings.HasPrefix(name, "sha2")
	}
	return false
}

// build compiles the rows of a group, and makes its table.
func (g *group) build() *table {
	t := &table{byName: make(map[string]*Mnemonic, 64), stems: make(map[string]*stem, 64)}
	for _, r := range g.rows {
		for _, f := range g.forms(r) {
			m := t.byName[f.Mnemonic]
			if m == nil {
				m = &Mnemonic{Name: f.Mnemonic, cond: AL}
				t.byName[f.Mnemonic] = m
			}
			m.Forms = append(m.Forms, f)
		}
	}
	for _, n := range g.others {
		if t.byName[n] == nil {
			t.byName[n] = &Mnemonic{Name: n, cond: AL, open: FeatV81M}
		}
	}
	t.buildA32(g)
	return t
}

// forms lists the forms of a row that are in the group.
func (g *group) forms(r *Row) []*Form {
	r.ready()
	if !slices.ContainsFunc(r.forms, func(f *Form) bool { return groupOf(f.Mnemonic) != g.begins }) {
		return r.forms
	}
	var some []*Form
	for _, f := range r.forms {
		if groupOf(f.Mnemonic) == g.begins {
			some = append(some, f)
		}
	}
	return some
}

// ready compiles the row at the first call. Rows that are reached by a name or a code
// are compiled.
func (r *Row) ready() {
	r.once.Do(func() {
		if err := r.compile(); err != nil {
			panic(err)
		}
	})
}

// codes has the rows of both tables by what their codes start with.
type codes struct {
	rows, rowsA32 []*Row
	byMiddleA32   [256][]*Row // rows of A32 by bits 27–20
	byTop         [256][]*Row // rows of T16 halfwords by their upper byte
	wide          [512][]*Row // 32-bit rows of Thumb state by bits 28–20
}

var allCodes = sync.OnceValue(func() *codes {
	t, v := integers(), vectors()
	c := &codes{rows: slices.Concat(t.thumb, v.thumb), rowsA32: slices.Concat(t.a32, v.a32)}
	compileAll(slices.Concat(c.rows, c.rowsA32))
	restLast(c.rows)
	restLast(c.rowsA32)
	const mid, wide = 0x0ff00000, 0x1ff00000
	for _, r := range c.rowsA32 {
		for b := range c.byMiddleA32 {
			if w := uint32(b) << 20; w&r.mask&^r.should&mid == r.value&^r.should&mid {
				c.byMiddleA32[b] = append(c.byMiddleA32[b], r)
			}
		}
	}
	for _, r := range c.rows {
		if r.size == 4 {
			for b := range c.wide {
				if w := uint32(b) << 20; w&r.mask&^r.should&wide == r.value&^r.should&wide {
					c.wide[b] = append(c.wide[b], r)
				}
			}
			continue
		}
		for b := range c.byTop {
			if uint32(b)&(r.mask>>8) == r.value>>8 {
				c.byTop[b] = append(c.byTop[b], r)
			}
		}
	}
	return c
})

// compileAll compiles rows on all processors.
func compileAll(rows []*Row) {
	var wait sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for w := range workers {
		wait.Go(func() {
			for i := w; i < len(rows); i += workers {
				rows[i].ready()
			}
		})
	}
	wait.Wait()
}

// Rows lists the rows of Thumb state. They must not be changed.
func Rows() []*Row { return allCodes().rows }

// Find looks a mnemonic up; name is lower case. With width the suffix that
// was cut off comes back: 'n', 'w' or 0. nil when no instruction set has it.
func Find(name string) (m *Mnemonic, width byte) {
	t := tableOf(name)
	if m := t.byName[name]; m != nil {
		return m, 0
	}
	if n := len(name); n > 2 && name[n-2] == '.' && (name[n-1] == 'n' || name[n-1] == 'w') && (!typedName(name) || strings.IndexByte(name, '.') == n-2) {
		width = name[n-1]
		name = name[:n-2]
		if m := t.byName[name]; m != nil {
			return m, width
		}
	}
	if i := strings.Index(name, ".w."); i > 0 && typedName(name) && width == 0 {
		width = 'w' // the width is in front of the types
		name = name[:i] + name[i+2:]
		if m := t.byName[name]; m != nil {
			return m, width
		}
	}
	if m := t.findA32(name); m != nil {
		return m, width
	}
	return t.wrongType(name), width
}

// Mnemonics lists the names of Thumb state's table, unsorted, but for
// those that only write out the condition AL.
func Mnemonics() []*Mnemonic { return slices.Clone(allMnemonics()) }

var allMnemonics = sync.OnceValue(func() []*Mnemonic {
	var out []*Mnemonic
	for _, t := range slices.Concat(integers().tables(), vectors().tables()) {
		for _, m := range t.byName {
			if slices.ContainsFunc(m.Forms, func(f *Form) bool { return !f.Rare }) {
				out = append(out, m)
			}
		}
	}
	return out
})
