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
	Prologue string   // source that stands in front: .equ, macros; must assemble without error
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
	object   []byte // nil when the run failed
	errors   []int
	warnings []int
	crashed  bool // ended by a signal or an internal error
}

// messageLine takes the place and the kind out of a line of the assembler's
// error output, behind the file name. The wording is left unread.
var messageLine = regexp.MustCompile(`^:(\d+): +(Error|Warning|Info|Fatal error|Internal error)\b`)

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
	var last *int // where the most recent complaint's line is kept
	for line := range strings.Lines(stderr.String()) {
		m := messageLine.FindStringSubmatch(strings.TrimPrefix(line, "in.s"))
		if m == nil {
			if strings.HasPrefix(line, "in.s:") {
				last = nil // a remark, with callers of its own
			}
			continue
		}
		n, _ := strconv.Atoi(m[1])
		switch m[2] {
		case "Info": // a macro's caller, innermost first
			if last != nil {
				*last = n
			}
		case "Warning":
			r.warnings = append(r.warnings, n)
			last = &r.warnings[len(r.warnings)-1]
		default:
			r.crashed = r.crashed || m[2] == "Internal error"
			r.errors = append(r.errors, n)
			last = &r.errors[len(r.errors)-1]
		}
	}
	if exit == nil {
		r.object, err = os.ReadFile(out)
		return r, err
	}
	return r, nil
}
