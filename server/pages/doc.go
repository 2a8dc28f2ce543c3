// Package pages asks the system for memory in large pages.
//
//	Fresh    room for what a process does that ends soon
//	Prepare  room for the analysis of a long source
//
// A system hands out memory page by page, of 4 KiB as a rule, each with a fault when it is
// touched first. A long source takes ten thousands of them, which can be half of the time that
// its analysis takes; a page of 2 MiB is one fault in place of 512. Where the system has no such
// pages, or decides for itself, nothing is done.
package pages

// Long is from which size on, in bytes, it is worth to prepare for a source.
const Long = 512 << 10

// What a source comes to in memory, in bytes for each of its bytes, about (measured: 15 to 26 in
// long sources of each state), and the most that is prepared: by then, memory is collected and
// used again.
const (
	heapOfByte  = 28
	maxPrepared = 400 << 20
)

// Fresh makes room for a process that reads sources and ends soon.
func Fresh() { fresh() }

// Grow makes room for a process that stays: its heap may grow by so many bytes.
func Grow(size int) { reserve(size) }

// Prepare makes room for the analysis of so many bytes of sources.
func Prepare(size int64) {
	if size >= Long {
		reserve(int(min(size, maxPrepared/heapOfByte) * heapOfByte))
	}
}
