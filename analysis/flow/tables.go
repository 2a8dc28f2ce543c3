package flow

import (
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// tableOf finds where a jump to an address that is computed leads: by a table of offsets
// or of addresses that is right after it, into steps of equal size, or to where PC reads. ok is false where not
// all of it is known; used are the items of the table.
func (g *graph) tableOf(it *program.Item) (targets, used []int32, ok bool) {
	if it.Match.Form == nil {
		return nil, nil, false
	}
	ops := g.OperandsOf(it)
	if len(ops) == 0 {
		return nil, nil, false
	}
	last := &ops[len(ops)-1]
	ahead := it.Offset + g.Environments[it.Environment].Mode.Ahead()
	exact := g.Sections[it.Section].Exact
	switch e := it.Match.Effects(); {
	case last.Kind == isa.OpLit && e.ReadsMem: // ldr pc, =label
		o := &it.Stmt.Ops[len(ops)-1]
		if y := g.Direct(o); y != nil && y.Weak {
			return nil, nil, false
		}
		t := g.place(g.Value(o, it))
		return []int32{t}, nil, t >= 0
	case !exact:
		return nil, nil, false
	case last.Kind == isa.OpMem && last.Reg == isa.PC && len(ops) == 1 && it.Match.Form.Row.Access > 0: // TBB, TBH
		return g.entries(it, ahead, int(it.Match.Form.Row.Access), func(v program.Value, d *program.Item) int32 {
			if v.Kind != program.Number || v.N < 0 {
				return -1
			}
			return g.place(program.Value{Kind: program.Address, Section: it.Section, N: ahead + 2*v.N})
		})
	case last.Kind == isa.OpMem && last.Reg == isa.PC && last.Off == isa.OffShift && !last.Minus && last.Imm == 2 && last.Shift == isa.LSL && e.Writes.Has(isa.PC):
		return g.entries(it, ahead, 4, func(v program.Value, d *program.Item) int32 { return g.place(v) })
	case ops[0].Kind == isa.OpReg && ops[0].Reg == isa.PC && opOf(it) == "add":
		targets, ok = g.stepsOf(it, ops, ahead)
		return targets, nil, ok
	case e.Flow == isa.FlowReg && e.Reads == 1<<isa.PC && !e.ReadsMem && (g.Sections[it.Section].Align >= 4 && it.Offset%4 == 0): // bx pc
		t := g.place(program.Value{Kind: program.Address, Section: it.Section, N: ahead})
		return []int32{t}, nil, t >= 0
	}
	return nil, nil, false
}

// entries reads the table at an offset in an item's section, of entries of so many
// bytes, up to the next line that is something else. ok is false where an entry leads
// nowhere that is known.
func (g *graph) entries(it *program.Item, at int64, unit int, target func(v program.Value, d *program.Item) int32) (targets, used []int32, ok bool) {
	seen := map[int32]bool{}
	for s := g.stepAt[it.Index] + 1; ; s++ {
		d := g.item(s)
		if d == nil {
			break
		}
		if d.Offset < at {
			continue // what is between the jump and the place where PC reads
		}
		if d.Offset > at && len(used) == 0 {
			return nil, nil, false
		}
		if d.Stmt.Kind != syntax.Directive || d.Stmt.Directive.Effect != syntax.EffData || d.Stmt.Directive.Strings && len(d.Stmt.Ops) > 0 && d.Stmt.Ops[0].IsStr || g.Unit(d) != unit {
			break
		}
		for i := range d.Stmt.Ops {
			t := target(g.Value(&d.Stmt.Ops[i], d), d)
			if t < 0 {
				return nil, nil, false
			}
			if !seen[t] {
				seen[t] = true
				targets = append(targets, t)
			}
		}
		used = append(used, d.Index)
	}
	return targets, used, len(targets) > 0
}
