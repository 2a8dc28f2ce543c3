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
		return fmt.Sprintf("The assembler inserts `%s` before it, 2 bytes %s.\n\n", text, r.atText(it.Section, it.Offset-it.Slot.ItSize()))
	}
	return fmt.Sprintf("It is in the block of `%s` that the assembler inserts before %s, %s.\n\n", text, first.Stmt.Name, r.atText(first.Section, first.Offset-first.Slot.ItSize()))
}
