package isa

import "strings"

// Other is what a statement would be in the other instruction set: of A32 in
// Thumb state, of T16 and T32 in A32.
type Other struct {
	// Inst is the encoding found; its Row is nil where there is none, and Why is
	// the reason then, part of a sentence.
	Inst Inst
	Why  string
	// Block: it has to be in an IT block, whose IT is not in Size.
	Block bool
	Cond  Cond // of the block
	Size  int  // in bytes
	// Flags are those that it sets; SameFlags says whether the statement sets
	// the same.
	Flags     Flags
	SameFlags bool
	form      *Form
	target    bool // the last operand is an address
}

// Other finds the form of the bound statement in the other instruction set, on
// a target with these features. pc is the address of both.
//
// The statement's operands are those of its plain spelling; the mnemonic of the
// same name in the other set says which encoding takes them, the shortest first
// as assemblers choose. Where only one that sets flags is left, that is given. What
// the plain spelling does not find, another one of the same encoding may: T16 has
// no STMDB, but PUSH.
func (m *Match) Other(have Features, pc int64) Other {
	row := m.Form.Row
	to, has := A, FeatA32
	if row.State == A {
		to, has = T, FeatT16
	}
	switch {
	case !have.Has(has):
		return Other{Why: "the target has no " + to.String()}
	case row.Second != nil:
		return Other{Why: "it is two instructions"}
	}
	f := (&Inst{Row: row, vals: m.fields()}).Form(true)
	if n := len(m.Form.ops); f == nil || m.what&flagIT != 0 || m.Form.Address(n-1) {
		f = m.Form // IT blocks have forms of their own, and an address has no plain one
	}
	plain := m.otherAs(f, to, have, pc)
	if plain.Inst.Row != nil {
		return plain
	}
	for _, alias := range row.forms {
		if alias == f || !alias.Alias || !alias.Unified || !m.spelt(alias, have, pc) {
			continue
		}
		if o := m.otherAs(alias, to, have, pc); o.Inst.Row != nil {
			return o
		}
	}
	return plain
}

// spelt says whether a form of the row is another spelling of the bound statement: what it
// reads from the encoding comes to the same encoding again, and is no literal, which may
// need a word in memory.
func (m *Match) spelt(f *Form, have Features, pc int64) bool {
	vals := m.fields()
	if f.it == itIn || !f.holds(&vals) {
		return false
	}
	ops := make([]Operand, len(f.ops))
	for i := range f.ops {
		ok := false
		if ops[i], ok = f.ops[i].operand(f, &vals, pc); !ok || ops[i].Kind == OpLit {
			return false
		}
	}
	again := binding{}
	if !f.fit(&Query{Have: have, Unified: true, PC: pc, A32: f.Row.State == A}, ops, &again) {
		return false
	}
	if c := f.Row.fieldIndex("cond"); c >= 0 {
		again.vals[c] = vals[c] // it is in the name
	}
	return again.vals == vals
}

// otherAs is Other for one spelling of the statement.
func (m *Match) otherAs(f *Form, to State, have Features, pc int64) Other {
	row, vals := m.Form.Row, m.fields()
	ops := make([]Operand, len(f.ops))
	for i := range f.ops {
		ok := false
		if ops[i], ok = f.ops[i].operand(f, &vals, pc); !ok {
			return Other{Why: "it has no such operands"}
		}
		if m.Deferred() && ops[i].Kind != OpReg {
			ops[i].Known = false
		}
		if f.Address(i) && to == A {
			ops[i].Imm &^= 3 // where a label of A32 code would be
			pc &^= 3
		}
	}
	cond := m.Condition()
	q := Query{Have: have, Unified: true, PC: pc, A32: to == A}
	names := []string{f.Mnemonic}
	if to == T {
		switch {
		case cond == AL:
		case f.Mnemonic == "b":
			names[0] += cond.String()
		case have.Has(FeatT32):
			q.IT = Slot{In: true, Last: true, Cond: cond}
		default:
			return Other{Why: "in T16 only branches take a condition"}
		}
		if s := row.fieldIndex("S"); s >= 0 && vals[s] == 0 && !q.IT.In {
			names = append(names, f.Mnemonic+"s") // with flags, if there is nothing else
		}
	}
	best := Other{Why: to.String() + " has no " + strings.ToUpper(f.Mnemonic)}
	for i, name := range names {
		if q.IT.In {
			name += cond.String()
		}
		mnemonic, _ := Find(name)
		if mnemonic == nil || len(mnemonic.FormsOf(to)) == 0 {
			continue
		}
		o, ok := mnemonic.Match(&q, ops)
		if !ok {
			if i == 0 {
				best.Why = why(mnemonic.Refuse(&q, ops, nil), to)
			}
			continue
		}
		if c := o.Form.Row.fieldIndex("cond"); to == A && c == 0 && !mnemonic.arm.spelt {
			f := &o.Form.Row.fields[c]
			o.word = o.word&^f.put(15) | f.put(uint32(cond))
		}
		e := o.Effects()
		if w := m.Effects(); e.Writes != w.Writes || e.WritesMem != w.WritesMem {
			best.Why = "the form there writes other registers"
			continue
		}
		in := Inst{Row: o.Form.Row, Word: o.Encode(), vals: o.fields()}
		g := in.Form(true)
		if g == nil || g.Mnemonic != o.Form.Mnemonic {
			g = o.Form // the name that the statement has
		}
		n := len(f.ops)
		return Other{Inst: in, Block: q.IT.In, Cond: cond, Size: in.Row.Size(), form: g, target: f.Address(n - 1),
			Flags: e.FlagsWritten, SameFlags: e.FlagsWritten == m.Effects().FlagsWritten}
	}
	return best
}

// Text writes the instruction, in unified syntax. target is the address
// that it goes to or takes a literal from, where it has one; empty for the
// number, counted from the same place as pc.
func (o *Other) Text(pc int64, target string) string {
	f := o.form
	if !o.target {
		target = ""
	}
	if f.Row.State == A {
		pc &^= 3
	}
	name := o.Inst.name(f, true)
	if o.Block { // the condition goes before a width
		base, width, _ := strings.Cut(name, ".")
		if s, flags := strings.CutSuffix(base, "s"); flags && o.Flags == 0 && f.Row.FlagsWritten != 0 {
			base = s // kept in the block
		}
		if name = base + o.Cond.String(); width != "" {
			name += "." + width
		}
	}
	return o.Inst.write(f, name, pc, target)
}

// why says in a few words what keeps the nearest form from taking operands.
func why(list []Refusal, to State) string {
	if len(list) == 0 {
		return to.String() + " has no such form"
	}
	r := &list[0]
	switch r.Reason {
	case NoFeature:
		return "it does not exist there on this target"
	case HighReg:
		return "r8–r15 are out of reach there"
	case SameReg:
		return "there the destination is the first source"
	case TooLarge, Misaligned, Negative, NoRotation:
		return "the constant does not fit there"
	case TooFar, Behind, OddTarget:
		return "the address is out of reach there"
	case BadList:
		return "the list does not fit there"
	}
	return to.String() + " has no form with these operands"
}
