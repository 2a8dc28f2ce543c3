// Mutants asks whether the tests would notice: it makes one small, realistic
// mistake in the code at a time and runs the tests, which should fail. Run it
// by hand, from the root of the repository:
//
//	go run ./isa/reftest/mutants                    # all of the list
//	go run ./isa/reftest/mutants -quick             # only: do all still apply?
//	go run ./isa/reftest/mutants -area flow -v      # areas that match
//	go run ./isa/reftest/mutants -shard 1/4 -workers 2
//
// The mistakes are data, in the files of folder list; anyone can add to them:
//
//	area analysis: flow
//	in analysis
//
//	mutant flow-branch-to-itself
//	- if target <= at {
//	+ if target < at {
//
// An area and a folder hold for all that follows. A mutant is a name and a
// change: the lines that begin with '-' are replaced by those with '+', and
// lines that begin with a space are in both. The text is looked for in all the
// sources below the folder, tests apart, whatever its spaces, line ends and
// comments are, and has to be there exactly once: code may move from file to
// file. If it isn't, the mutant is stale: the run says so and fails, as does a
// test. More lines may come before the change:
//
//	tests ./isa TestTiming|TestCores    tried first, because they should notice
//	why the loop ends there anyway      it changes nothing that can be seen
//
// A mutant with a reason is equivalent: it has to apply and compile, and is
// not tried.
//
// The work tree is never touched: changed files are handed to the go command as
// an overlay. Compiling takes longer than most tests; so the tests are compiled
// once, with all mutants in functions side by side, and each run chooses one.
// The tests of the changed package are asked, and those of each package that
// depends on it, from the bottom up, until one fails: first those that have killed
// most mutants of the package so far, then the quickest of each, 1/32 of their
// time (with the flag -first no others), then more. A mutant that
// does not compile is an error of the list. One whose tests take several times
// as long as without it is killed.
//
// What was found is kept outside of the repository (-cache). A mutant that was
// killed is not tried again as long as the changed file is the same; when it
// is another, the test that killed it goes first. One that survived is
// tried again when anything has changed. The flag -fresh forgets everything.
//
// To choose mutants without looking at what the tests check, let chance choose:
//
//	go run ./isa/reftest/mutants -propose 20 -in server -seed 7
//
// prints changes that compile, in the form of the list.
package main
