package program

import (
	"slices"

	"narrowgauge/isa"
)

// ItSize is the size of an IT that is inserted in front of the instruction.
func (s Slot) ItSize() int64 {
	if s&SlotFirst != 0 {
		return 2
	}
	return 0
}

// Slot is a place in an IT block in one byte: a condition, and the bits below.
// 0 is outside of blocks.
type Slot uint8

const (
	SlotIn   Slot = 0x80
	SlotLast Slot = 0x40
	// SlotInserted: the assembler makes the block, and slotFirst: its IT is
	// in front of this instruction.
	SlotInserted Slot = 0x20
	SlotFirst    Slot = 0x10
)

func PackSlot(s isa.Slot) (out Slot) {
	if s.In {
		out = SlotIn | Slot(s.Cond)
		if s.Last {
			out |= SlotLast
		}
	}
	return out
}

func (s Slot) Unpack() isa.Slot {
	return isa.Slot{In: s&SlotIn != 0, Last: s&SlotLast != 0, Cond: isa.Cond(s & 15)}
}

// Conditional says whether the item is a T16 branch with a condition.
func (it *Item) Conditional() bool {
	if it.Stmt.Mnemonic == nil || it.Slot&SlotIn != 0 {
		return false // a directive; or the condition is the block's
	}
	f := it.Stmt.Mnemonic.Forms
	return len(f) > 0 && f[0].Row.Flow == isa.FlowBranch && f[0].Conditional()
}

// Calls says whether the item is a call of a label, or can be.
func (it *Item) Calls(mode isa.State) bool {
	if it.Stmt.Mnemonic == nil {
		return false
	}
	return slices.ContainsFunc(it.Stmt.Mnemonic.FormsOf(mode), func(f *isa.Form) bool { return f.Row.Flow == isa.FlowCall && f.Row.Linked() })
}

// Branches says whether the item is an A32 branch to a label.
func (it *Item) Branches() bool {
	if it.Stmt.Mnemonic == nil {
		return false
	}
	f := it.Stmt.Mnemonic.FormsOf(isa.A)
	return len(f) > 0 && (f[0].Row.Flow == isa.FlowBranch || f[0].Row.Flow == isa.FlowCall)
}
