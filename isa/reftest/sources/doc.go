// Package sources makes test programs of the hand-written ARM assembly in
// Debian's source packages: C libraries and the compiler's support routines,
// which nobody here wrote. Nothing of their text is in this repository; the
// packages are unpacked when a test runs.
//
// A [Package] knows the files, the macros and folders that its build gives to
// the preprocessor, and what its makefiles generate. [Configs] are the targets,
// each with the macros that a compiler for it defines. [Units] is the product
// of the two, and [Expand] runs the host's C preprocessor over it.
//
//	p := sources.Find("newlib")
//	units := sources.Expand(t, p.Units(p.Unpack(t)))
//	for _, u := range units {
//		use(u.Text, u.Config.Arch, u.Config.Flags())
//	}
//
// A missing package skips the test, or fails it with CI=true, as in reftest.
package sources
