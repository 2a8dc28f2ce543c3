package reftest

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

// assembler is the reference assembler's program name.
const assembler = "arm-none-eabi-as"

// Options says how the reference assembler reads its source.
type Options struct {
	Arch     string   // the -march value: "armv4t", "armv6-m", "armv7-a+fp"; empty: the assembler's own default
	Unified  bool     // unified syntax; otherwise divided
	Thumb    bool     // start in T16/T32 code; otherwise A32
	Prologue string   // source that is in front: .equ, macros; must assemble without error
	Flags    []string // further command-line flags
}

// header is the source in front of the statements, ending in a newline.
func (o Options) header() string {
	s := ".syntax divided\n"
	if o.Unified {
		s = ".syntax unified\n"
	}
	if o.Thumb {
		s += ".thumb\n"
	} else {
		s += ".arm\n"
	}
	if o.Prologue != "" {
		s += strings.TrimSuffix(o.Prologue, "\n") + "\n"
	}
	return s
}

// outcome is one run of the assembler. Lines count from 1; a line number of a
// complaint inside a macro is that of the outermost invocation.
type outcome struct {
	object   string // the path of the ELF file, empty when the run failed
	errors   []int
	warnings []int
	others   []Place // errors in files that the source includes
	crashed  bool    // ended by a signal or an internal error
}

// Place is a line of a file, from 1.
type Place struct {
	File string
	Line int
}

// messageLine takes the place and the kind out of a line of the assembler's
// error output. The wording is left unread.
var messageLine = regexp.MustCompile(`^([^:]+):(\d+): +(Error|Warning|Info|Fatal error|Internal error)\b`)

// runAssembler assembles source in a directory of its own, dir. The error is
// about the run; a refused source is none.
func runAssembler(dir string, opt Options, source string, flags ...string) (outcome, error) {
	in, out := filepath.Join(dir, "in.s"), filepath.Join(dir, "out.o")
	if err := os.WriteFile(in, []byte(source), 0o644); err != nil {
		return outcome{}, err
	}
	var args []string
	if opt.Arch != "" {
		args = append(args, "-march="+opt.Arch)
	}
	args = append(append(append(args, opt.Flags...), flags...), "-o", "out.o", "in.s")
	cmd := exec.Command(assembler, args...)
	cmd.Dir, cmd.Env = dir, append(os.Environ(), "LC_ALL=C")
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		return outcome{}, err
	}
	var r outcome
	r.crashed = exit != nil && !exit.Exited()
	open := false // the complaint above may still get its callers
	var last Place
	var kind string
	finish := func() {
		switch own := last.File == "in.s"; {
		case !open:
		case own && kind == "Warning":
			r.warnings = append(r.warnings, last.Line)
		case own:
			r.errors = append(r.errors, last.Line)
		case kind != "Warning":
			r.others = append(r.others, last)
		}
		open = false
	}
	for line := range strings.Lines(stderr.String()) {
		m := messageLine.FindStringSubmatch(line)
		if m == nil {
			if strings.HasPrefix(line, "in.s:") {
				finish() // what follows belongs to a remark
			}
			continue
		}
		n, _ := strconv.Atoi(m[2])
		at := Place{m[1], n}
		if m[3] == "Info" { // a macro's caller, innermost first
			last = at
			continue
		}
		finish()
		r.crashed = r.crashed || m[3] == "Internal error"
		open, last, kind = true, at, m[3]
	}
	finish()
	if exit == nil {
		r.object = out
	}
	return r, nil
}
