package reftest

import (
	"errors"
	"runtime"
	"slices"
	"sync"
	"testing"
)

// Program is a whole source with the assembler's command line; nothing is
// in front of it.
type Program struct {
	Text  string
	Flags []string
}

// Judgement is the reference assembler's verdict on a program.
type Judgement struct {
	OK      bool
	Crashed bool
	// ErrorLines are those with an error, from 1, sorted, each once; as in
	// File.
	ErrorLines []int
}

// AssemblePrograms assembles programs, several at a time, each in a run of its
// own. The test fails when the tool can't be run.
func AssemblePrograms(t testing.TB, programs []Program) []Judgement {
	t.Helper()
	Require(t, assembler)
	verdicts := make([]Judgement, len(programs))
	work := make(chan int, len(programs))
	for i := range programs {
		work <- i
	}
	close(work)
	errs := make([]error, min(runtime.GOMAXPROCS(0), max(len(programs), 1)))
	var wait sync.WaitGroup
	for w := range errs {
		dir := t.TempDir()
		wait.Go(func() {
			for i := range work {
				out, err := runAssembler(dir, Options{Flags: programs[i].Flags}, programs[i].Text)
				if err != nil {
					errs[w] = err
					return
				}
				slices.Sort(out.errors)
				verdicts[i] = Judgement{OK: out.object != "", Crashed: out.crashed, ErrorLines: slices.Compact(out.errors)}
			}
		})
	}
	wait.Wait()
	if err := errors.Join(errs...); err != nil {
		t.Fatalf("reftest: %v", err)
	}
	return verdicts
}

// AssembleObjects assembles programs, several at a time, and gives what each comes to; nil for
// one that is refused. Local names (.L…) are not kept. The test fails when the tool can't be
// run.
func AssembleObjects(t testing.TB, programs []Program) []*Object {
	t.Helper()
	Require(t, assembler)
	objects := make([]*Object, len(programs))
	work := make(chan int, len(programs))
	for i := range programs {
		work <- i
	}
	close(work)
	errs := make([]error, min(runtime.GOMAXPROCS(0), max(len(programs), 1)))
	var wait sync.WaitGroup
	for w := range errs {
		dir := t.TempDir()
		wait.Go(func() {
			for i := range work {
				out, err := runAssembler(dir, Options{Flags: programs[i].Flags}, programs[i].Text)
				if err == nil && out.object != "" {
					var o Object
					if o, err = readObject(out.object); err == nil {
						objects[i] = &o
					}
				}
				if err != nil {
					errs[w] = err
					return
				}
			}
		})
	}
	wait.Wait()
	if err := errors.Join(errs...); err != nil {
		t.Fatalf("reftest: %v", err)
	}
	return objects
}
