// Package link sees sources as a linker does: what each gives to others and wants of them.
//
//	Of     the facts of one program: names that others may see, names that it lacks, where
//	       they are defined, declared and used, which routine uses them, and how
//	Check  what does not fit when several sources become one program
//
// The facts are plain data, far smaller than the program, which need not be kept. Nothing
// here knows which sources belong together but by what it is told: a group that a build
// names, or a name that one source wants and only one other has. Where that says nothing,
// nothing is reported.
package link
