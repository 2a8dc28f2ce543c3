package analysis

import "narrowgauge/analysis/describe"

// Placed is a statement where the layout has put it, Share a part of the program.
type (
	Placed = describe.Placed
	Share  = describe.Share
)

// Listing lists the statements of the program that take room, and labels, in the order of the
// sources, with the literal pools where they are placed.
func (r *Result) Listing() []Placed { return r.view().Listing() }

// Map lists the sections of the program, and in each its routines and pools.
func (r *Result) Map() []Share { return r.view().Map() }
