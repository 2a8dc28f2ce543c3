// Package layout lays out sections in which instructions may grow: from the points
// where something may move (see points.go) to the final place of every item, as the
// reference assembler has it. Here a branch's reach decides its size. Subsections
// are laid out one after the other and become one section each.
package layout
