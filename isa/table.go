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
	Forms []*Form // in the compact state, in order of preference
	cond  Cond    // in the compact state: the condition in the name, else AL
	spelt bool    // and it is written
	// open are features that bring the name to the compact state, although no form
	// describes it: with all of them, what is written with it is not looked at.
	open Features

	arm reading // what it is in A32 code
}

// table is everything that is derived from the rows; it never changes once
// built.
type table struct {
	rows   []*Row // of the compact state
	rowsA  []*Row // of A32
	stems  map[string]*stem
	byMidA [256][]*Row // rows of A32 by bits 27–20
	byName map[string]*Mnemonic
	byTop  [256][]*Row // rows of T16 halfwords by their upper byte
	wide   [512][]*Row // 32-bit rows of the compact state by bits 28–20
}

var theTable = sync.OnceValue(buildTable)

func buildTable() *table {
	t := &table{rows: rowsT(), byName: make(map[string]*Mnemonic, 4096)}
	t.rows = append(t.rows, rowsT32Data()...)
	t.rows = append(t.rows, rowsT32Media()...)
	t.rows = append(t.rows, rowsT32System()...)
	t.rows = append(t.rows, rowsT32Memory()...)
	literalForms(t.rows)
	vectors := append(rowsVFP(), rowsSIMD()...)
	for _, r := range vectors {
		t.rows = append(t.rows, r.compact())
	}
	t.rowsA = append(rowsA(), vectors...)
	for _, rows := range [][]*Row{t.rows, t.rowsA} {
		restLast(rows)
	}
	for _, r := range t.rows {
		r.State = T
	}
	for _, r := range t.rowsA {
		r.State = A
	}
	compileAll(append(t.rows[:len(t.rows):len(t.rows)], t.rowsA...))
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
		if r.size == 4 {
			for b := range t.wide {
				if w := uint32(b) << 20; w&r.mask&^r.should&0x1ff00000 == r.value&^r.should&0x1ff00000 {
					t.wide[b] = append(t.wide[b], r)
				}
			}
			continue
		}
		for b := range t.byTop {
			if uint32(b)&(r.mask>>8) == r.value>>8 {
				t.byTop[b] = append(t.byTop[b], r)
			}
		}
	}
	t.addV81M()
	t.buildA()
	return t
}

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

// Rows lists the rows of the compact state. They must not be changed.
func Rows() []*Row { return theTable().rows }

// Find looks a mnemonic up; name is lower case. With width the suffix that
// was cut off comes back: 'n', 'w' or 0. nil when no instruction set has it.
func Find(name string) (m *Mnemonic, width byte) {
	t := theTable()
	if m := t.byName[name]; m != nil {
		return m, 0
	}
	if n := len(name); n > 2 && name[n-2] == '.' && (name[n-1] == 'n' || name[n-1] == 'w') && (name[0] != 'v' || strings.IndexByte(name, '.') == n-2) {
		width = name[n-1]
		name = name[:n-2]
		if m := t.byName[name]; m != nil {
			return m, width
		}
	}
	if i := strings.Index(name, ".w."); i > 0 && name[0] == 'v' && width == 0 {
		width = 'w' // the width stands in front of the types
		name = name[:i] + name[i+2:]
		if m := t.byName[name]; m != nil {
			return m, width
		}
	}
	if m := t.findA(name); m != nil {
		return m, width
	}
	return otherMnemonic(name), width
}

// Mnemonics lists the names of the compact state's table, unsorted, but for
// those that only write out the condition AL.
func Mnemonics() []*Mnemonic {
	t := theTable()
	out := make([]*Mnemonic, 0, len(t.byName))
	for _, m := range t.byName {
		if slices.ContainsFunc(m.Forms, func(f *Form) bool { return !f.Rare }) {
			out = append(out, m)
		}
	}
	return out
}
