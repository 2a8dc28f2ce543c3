package describe

import (
	"fmt"

	"narrowgauge/analysis/program"
)

// insertedText tells of the IT that the assembler inserts for the item, as
// Markdown; empty without one.
func (r *View) insertedText(it *program.Item) string {
	text, first := r.InsertedBlock(it)
	switch first {
	case nil:
		return ""
	case it:
		return fmt.Sprintf("The assembler inserts `%s` before it, 2 bytes at %s.\n\n", text, r.PlaceText(it.Sec, it.Off-it.Slot.ItSize()))
	}
	return fmt.Sprintf("It is in the block of `%s` that the assembler inserts before %s, at %s.\n\n", text, first.Stmt.Name, r.PlaceText(first.Sec, first.Off-first.Slot.ItSize()))
}
