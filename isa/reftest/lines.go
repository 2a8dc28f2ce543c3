package reftest

import (
	"debug/elf"
	"errors"
	"fmt"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"testing"
)

// Verdict is what the reference assembler says of one statement.
type Verdict struct {
	OK      bool // it assembles, perhaps with a warning
	Warned  bool // there was a warning that names the line
	Crashed bool // the assembler itself broke down on it; then OK is false
	// Bytes is the statement's code at address 0. Where Relocs is not empty,
	// the bytes hold the addend in the place of the address.
	Bytes []byte
	// Pool is what the assembler puts after the statement for a literal
	// (=value): alignment padding and the literal itself.
	Pool []byte
	// Relocs have offsets from the start of Bytes. R_ARM_V4BX, which every BX
	// in A32 code for ARMv4T gets, is a mark for the linker: the bytes stay.
	Relocs []Reloc
}

// batchSize is the number of statements in one run of the assembler. It is
// small enough for the section numbers of an ELF file (below 0xff00), and
// shares the work between the processors.
const batchSize = 4096

// Assemble gives the reference assembler's verdict on each of lines, in their
// order. Each line is a statement of its own, in a section of its own at
// address 0: no line sees the labels, the literal pool or the IT block of
// another. Symbols come from opt.Prologue or stay undefined, which leaves a
// relocation.
//
// Plain instructions go through the assembler together. A line that could
// touch its neighbours (a label, a directive, a string, several statements)
// gets a run of its own, some milliseconds each; such a line's Bytes are those
// that it leaves in the section it starts in, none where it swallows the source
// after it (.end, an open comment). The same holds for macros of the
// prologue, which are taken for instructions: they must leave section, syntax
// and instruction set as they were.
//
// A line must not contain a line break. The test fails when the prologue does
// not assemble.
func Assemble(t testing.TB, opt Options, lines []string) []Verdict {
	t.Helper()
	Require(t, assembler)
	verdicts := make([]Verdict, len(lines))
	var batches [][]int
	var batch []int
	for i, line := range lines {
		switch {
		case strings.ContainsAny(line, "\r\n"):
			t.Fatalf("reftest: line %d holds a line break: %q", i, line)
		case batchable(line):
			if batch = append(batch, i); len(batch) == batchSize {
				batches, batch = append(batches, batch), nil
			}
		default:
			batches = append(batches, []int{i})
		}
	}
	if len(batch) > 0 {
		batches = append(batches, batch)
	}

	work := make(chan []int, len(batches))
	for _, b := range batches {
		work <- b
	}
	close(work)
	workers := make([]error, min(runtime.GOMAXPROCS(0), len(batches)))
	var wait sync.WaitGroup
	for w := range workers {
		run := lineRun{t.TempDir(), opt, lines, verdicts}
		wait.Go(func() {
			for b := range work {
				if workers[w] = run.judge(b); workers[w] != nil {
					return
				}
			}
		})
	}
	wait.Wait()
	if err := errors.Join(workers...); err != nil {
		t.Fatalf("reftest: %v", err)
	}
	return verdicts
}

var (
	// A colon makes a label only where it is right after the first word.
	plainStatement = regexp.MustCompile(`^\s*[A-Za-z_][A-Za-z0-9_.]*(\s+([^\s:;"'\\][^;"'\\]*)?)?$`)
	// What a plain statement must not hold: a comment that may not end, a
	// definition of a symbol or of a register's name.
	reaching = regexp.MustCompile(`/\*|(^|[^,\s])\s*=|\.(req|unreq|dn|qn)\b`)
)

// batchable says whether a line is sure to be a statement that leaves the
// lines around it alone.
func batchable(line string) bool {
	return plainStatement.MatchString(line) && !reaching.MatchString(line)
}

// lineRun is one worker of Assemble. Workers share verdicts, each writing its
// own elements.
type lineRun struct {
	dir      string
	opt      Options
	lines    []string
	verdicts []Verdict
}

// rows is the number of source lines that a statement takes: its section, the
// statement, the label after it.
const rows = 3

// judge fills in the verdicts for the lines in batch. An error is about the
// assembler or the prologue, never about a line.
func (r *lineRun) judge(batch []int) error {
	header := r.opt.header()
	first := strings.Count(header, "\n") + 1
	live := batch
	for len(live) > 0 {
		var src strings.Builder
		src.WriteString(header)
		for k, i := range live {
			fmt.Fprintf(&src, ".section _reftest_%d,\"ax\",%%progbits\n%s\n_reftest_end_%d:\n", k, r.lines[i], k)
		}
		// Complaints about the end of the source name its last line: let that
		// be none of the statements.
		src.WriteString(".text\n")
		out, err := runAssembler(r.dir, r.opt, src.String())
		if err != nil {
			return err
		}
		for _, n := range out.warnings {
			if k := (n - first) / rows; n >= first && k < len(live) {
				r.verdicts[live[k]].Warned = true
			}
		}
		if out.object != "" {
			return r.collect(live, out.object)
		}
		bad := map[int]bool{}
		for _, n := range out.errors {
			if n < first {
				return fmt.Errorf("the assembler refuses line %d of the prologue:\n%s", n, header)
			}
			if k := (n - first) / rows; k < len(live) {
				bad[k] = true
			}
		}
		switch {
		case len(live) == 1:
			r.verdicts[live[0]].Crashed = out.crashed
			return nil
		case len(bad) == 0 || out.crashed:
			// Something is wrong, and the assembler doesn't say where.
			half := len(live) / 2
			return errors.Join(r.judge(live[:half]), r.judge(live[half:]))
		}
		var rest []int
		for k, i := range live {
			if !bad[k] {
				rest = append(rest, i)
			}
		}
		live = rest
	}
	return nil
}

// collect takes the verdicts on good lines out of the object file at a path.
func (r *lineRun) collect(live []int, path string) error {
	f, err := readObject(path)
	if err != nil {
		return err
	}
	for k, i := range live {
		section := fmt.Sprintf("_reftest_%d", k)
		data, found := f.Sections[section]
		end, hasEnd := f.Symbols[fmt.Sprintf("_reftest_end_%d", k)]
		if !found || !hasEnd {
			if len(live) == 1 {
				// Accepted, but it swallowed what follows, like .end or an
				// open string: what is there is not its own.
				r.verdicts[i].OK = true
				continue
			}
			return fmt.Errorf("line %d is swallowed by a line before it: %q", i, r.lines[i])
		}
		v := Verdict{OK: true, Warned: r.verdicts[i].Warned, Bytes: data, Relocs: f.Relocs[section]}
		if end.Section == section {
			v.Bytes, v.Pool = data[:end.Value:end.Value], data[end.Value:]
		}
		r.verdicts[i] = v
	}
	return nil
}

// Reloc is one relocation of an ELF section. ARM relocations keep the addend
// in the place itself (AAELF32, section "Relocation").
type Reloc struct {
	Offset uint32 // of the place, in its section
	Type   elf.R_ARM
	Symbol string // the section's name for a section symbol
}
