package program

// Section is a named part of the object file, or a part of one with a number: a
// subsection, which becomes one with its section when all is laid out.
type Section struct {
	Name  string
	Size  int64
	Exact bool  // offsets are right; false after something of unknown size
	Code  bool  // holds instructions
	Exec  bool  // is one for code, by its name or flags
	Align int64 // largest alignment asked for, in bytes
	// EndPool is where the pool at the section's end starts, -1 without one.
	EndPool int64
	// Main is the section that this is a subsection of, or itself; Sub its number,
	// and Subs the main section's others.
	Main        int16
	Subsection  int64
	Subsections []int16
	Declaration SectionDeclaration
	// Record: no section, but the offsets of .struct.
	Record bool
	// Place has the positions of items in the section's order where it is not
	// that of their numbers.
	Place map[int32]int
}

// SectionDeclaration is what the first .section that gave flags said.
type SectionDeclaration struct {
	Flags   string // sorted
	Type    string
	Entsize int64
	Given   bool
	Nobits  bool // holds no bytes in the file
}
