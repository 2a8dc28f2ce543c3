package isa

import (
	"errors"
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

// table is everything that is derived from rows whose names have the same
// first letters; it never changes once built.
type table struct {
	rows    []*Row // of Thumb state
	rowsA32 []*Row // of A32
	stems   map[string]*stem
	byName  map[string]*Mnemonic
}

// Two tables, as most programs have no floating point, and each process waits
// at its start for what it needs.
var (
	integers = sync.OnceValue(buildIntegers)
	vectors  = sync.OnceValue(buildVectors)
)

func buildIntegers() *table {
	rows := slices.Concat(rowsT16(), rowsT32Data(), rowsT32Media(), rowsT32System(), rowsT32Memory())
	return buildTable(rows, rowsA32(), namesV81M)
}

func buildVectors() *table {
	a := slices.Concat(rowsVFP(), rowsSIMD(), rowsConstants(), rowsElements(), rowsLater())
	rows := lazyT32()
	for _, r := range a {
		rows = append(rows, r.compact())
	}
	return buildTable(rows, a, []string{"vscclrm"})
}

// tableOf is the table that has a name, if one has: those of floating point
// and vectors start with a V, older ones with an F, and some have the name of
// what they compute.
func tableOf(name string) *table {
	if name != "" && name[0] == 'f' || typedName(name) {
		return vectors()
	}
	return integers()
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

// buildTable compiles the rows of Thumb state and of A32. others are names
// of ARMv8.1-M that no row has: see Checked.
func buildTable(rows, rowsA []*Row, others []string) *table {
	t := &table{rows: rows, rowsA32: rowsA, byName: make(map[string]*Mnemonic, 1024), stems: make(map[string]*stem, 1024)}
	for _, r := range t.rows {
		r.State = T
	}
	for _, r := range t.rowsA32 {
		r.State = A
	}
	for _, rows := range [][]*Row{t.rows, t.rowsA32} {
		restLast(rows)
	}
	compileAll(append(t.rows[:len(t.rows):len(t.rows)], t.rowsA32...))
	for _, r := range t.rows {
		for _, f := range r.forms {
			m := t.byName[f.Mnemonic]
			if m == nil {
				m = &Mnemonic{Name: f.Mnemonic, cond: AL}
				t.byName[f.Mnemonic] = m
			}
			m.Forms = append(m.Forms, f)
			f.grows = f.growth()
		}
	}
	for _, n := range others {
		if t.byName[n] == nil {
			t.byName[n] = &Mnemonic{Name: n, cond: AL, open: FeatV81M}
		}
	}
	t.buildA32()
	return t
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
	c := &codes{rows: slices.Concat(t.rows, v.rows), rowsA32: slices.Concat(t.rowsA32, v.rowsA32)}
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

// compileAll compiles rows on all processors: each process waits for that at its
// start.
func compileAll(rows []*Row) {
	var wait sync.WaitGroup
	errs := make([]error, runtime.GOMAXPROCS(0))
	for w := range errs {
		wait.Go(func() {
			for i := w; i < len(rows) && errs[w] == nil; i += len(errs) {
				errs[w] = rows[i].compile()
			}
		})
	}
	wait.Wait()
	if err := errors.Join(errs...); err != nil {
		panic(err)
	}
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
func Mnemonics() []*Mnemonic {
	var out []*Mnemonic
	for _, t := range []*table{integers(), vectors()} {
		for _, m := range t.byName {
			if slices.ContainsFunc(m.Forms, func(f *Form) bool { return !f.Rare }) {
				out = append(out, m)
			}
		}
	}
	return out
}
