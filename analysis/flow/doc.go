// Package flow follows execution. It says what a program runs into (Check): modes and
// alignment of code, pools, bit 0 of addresses that change the state; what is still needed
// after a line (Paths.DeadRegs, DeadFlags, StackUnset; StoredWords and FrameWords for words of the stack); which lines count on distances
// (Stretches, Moved), what a push may spoil (PushHarms), and what a routine does to its
// callers (RoutineAt, in summary.go, with what it costs in cost.go, as loops and blocks
// do in part.go; wait states of memory are in waits.go).
//
// # The graph
//
// What is needed after a line is a question to a graph of the whole program, which the
// first question makes, in a time that grows as the program does (graph.go). Each line
// that takes part is a step: what it reads and overwrites, and its way on (ways.go). An
// instruction has these from its row; one that is refused has those that its name and
// operands evidently mean (isa.Mnemonic.EvidentEffects); what cannot be read, data and
// the end of a section need everything. Steps that are carried out one after the other
// are a block. Its edges go to the next block, to targets of branches, through tables
// right after a jump (tables.go), into steps that an index chooses (steps.go), and, as
// calls, to routines of this file.
//
// # What is needed
//
// Nobody asks which routine a line is in. What is needed at a place is a function of what
// is needed where the routine comes back (needs): what some way reads first, and what
// some way hands on as it is. Where a routine is called, its function is applied to what
// is needed after the call: so a call costs what the routine really reads, and flags that
// it neither reads nor sets are handed through (live.go, solve). Then each routine gets
// what is needed after the calls that lead to it, along jumps too (routines.go, enter).
// Where the return address is, in a register or on the stack, is followed to see which
// jumps return, and which returns may go to the caller's caller (frames.go). Where other
// files are called, or call, the procedure call standard counts for flags (AAPCS32,
// 6.1.1): they are not alive, nor are Q and GE. All registers are alive there, as hand-written code need
// not follow the standard further.
//
// A label whose address something has, in a register or in data, may be reached by every
// jump and call through a register; a return address that is made by hand (mov lr, pc)
// by every return. Where code is not seen, any label is taken for such.
//
// # What is known
//
// Known (known.go) follows values through the graph: the semantics of rows evaluated on
// words of package values. A routine begins with what it was given, whatever that is; where
// it comes back, what has become of that is handed to its callers (apply). What calls of
// other files leave is as the procedure call standard has it, and marked as assumed. Loops
// are followed until nothing changes, with ranges that widen. Conditions say what the
// values are that they have been set by (assume.go). Where code goes to a place that only
// it knows, in the middle of something, nothing is known of the program.
package flow
