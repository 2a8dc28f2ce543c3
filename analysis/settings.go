package analysis

import (
	"strconv"
	"strings"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Settings is what the assembler's command line would say. The zero value
// of every field means its default.
type Settings struct {
	// Arch is an architecture as the assembler's -march takes it, with
	// extensions ("armv4t", "armv7-a+fp"). Default: armv4t.
	Arch string `json:"arch"`
	// Guess is whether the target is taken from build files near a source, or from what it
	// needs, where neither settings nor directives say it: auto or never. A hint at the first line says what was
	// taken, and why; one says so, too, where a source is of another architecture and left alone. Default: auto.
	Guess string `json:"guess"`
	// CPU is a core as -mcpu takes it ("arm7tdmi", "cortex-m0"). It wins over
	// Arch.
	CPU string `json:"cpu"`
	// FPU is a floating-point unit as -mfpu takes it. Without it there is only
	// what extensions have: no core has one by its name.
	FPU string `json:"fpu"`
	// StartMode is the instruction set before the first mode directive: arm
	// or thumb. Default: arm, or thumb where the architecture has nothing else.
	StartMode string `json:"startMode"`
	// Syntax before the first .syntax directive: unified or divided.
	// Default: divided.
	Syntax string `json:"syntax"`
	// ImplicitIT is where the assembler inserts IT lines by itself, as its
	// option -mimplicit-it takes it: never, arm, thumb or always. With thumb
	// and always, a conditional line of T32 code outside of IT blocks gets one
	// that the assembler makes; never and arm mean the same here. Default: never.
	ImplicitIT string `json:"implicitIT"`
	// Dialect is how the sources are written: auto (each file as it looks),
	// dots (directives with a dot, comments with @, statements separated by ;),
	// semicolon (the same with ; comments and labels at column one), columns
	// (AREA, DCD, EQU and so on, labels at column one) or modules (MODULE,
	// SECTION, DC32). Default: auto.
	Dialect string `json:"dialect"`
	// AlignUnit is what the number after .align counts: power (of two) or
	// bytes. Default: power.
	AlignUnit string `json:"alignUnit"`
	// WordBytes is how many bytes .word has: 4 or 2. Default: 4.
	WordBytes string `json:"wordBytes"`
	// Include lists the folders in which .include looks, after the folder of
	// the including file. What is in none of them is looked for in the project.
	Include []string `json:"include"`
	// Preprocess is whether sources go through the C preprocessor first: auto,
	// always or never. Auto takes those with a name that ends in .S or .sx, and those with
	// #include, or #define of a name that they use, at the first column.
	// Default: auto.
	Preprocess string `json:"preprocess"`
	// Defines lists macros of the preprocessor that are defined before
	// the first line, as its option -D takes them: NAME, NAME=text, or
	// NAME(parameters)=text.
	Defines []string `json:"defines"`
	// Prelude lists files that the preprocessor reads before the first line,
	// as its option -include takes them. Only the macros in them count.
	Prelude []string `json:"prelude"`
	// Symbols lists absolute symbols that are defined before the first
	// line, as the assembler's option --defsym takes them: NAME=number.
	Symbols []string `json:"symbols"`
	// CompileCommands is where the compile flags of the sources are looked up:
	// auto, never, or the path of a JSON compilation database. Auto takes a
	// compile_commands.json in a folder above the source, or in a build folder
	// there. What any other setting says wins over it. Default: auto.
	CompileCommands string `json:"compileCommands"`
}

// DefaultArch is the architecture without a setting: what it takes runs on
// every core that has T16 code.
const DefaultArch = "armv4t"

// SettingError says which setting has a value that nothing knows.
type SettingError struct {
	Setting string   // arch, guess, cpu, fpu, startMode, syntax, implicitIT, preprocess, dialect, alignUnit, wordBytes, symbols
	Value   string   // as given
	Near    []string // known values that are close to it, nearest first
}

// Error says what is wrong, and lists similar names or all that there are.
func (e *SettingError) Error() string {
	value := strconv.Quote(e.Value)
	kind := map[string]string{"arch": "architecture", "cpu": "core", "fpu": "floating-point unit"}[e.Setting]
	switch {
	case kind != "" && len(e.Near) > 0:
		return "there is no " + kind + " " + value + "; similar names: " + strings.Join(e.Near, ", ")
	case kind != "":
		return "there is no " + kind + " " + value + "; the names are those of the assembler's option -m" + e.Setting
	case e.Setting == "symbols":
		return value + " is not a symbol and its value, as in NAME=5"
	}
	n := len(e.Near) - 1
	if n < 1 {
		return value + " is not known here"
	}
	return value + " is not known here; it can be " + strings.Join(e.Near[:n], ", ") + " or " + e.Near[n]
}

// unsaid says whether the settings say nothing of a command line.
func (s *Settings) unsaid() bool {
	return s == nil || (s.Arch == "" || s.Arch == everything) && s.CPU == "" && len(s.Defines) == 0 && s.Guess != "never" && s.CompileCommands != "never"
}

// everything is the architecture that has all instructions, with which a guess reads sources.
const everything = "all"

// Resolve checks the settings; the error is a *SettingError.
func (s *Settings) Resolve() error {
	_, err := s.env()
	return err
}

func (s *Settings) env() (program.Environment, error) {
	e := program.Environment{Mode: isa.A, Target: DefaultArch}
	if s == nil {
		s = &Settings{}
	}
	e.Selection.SelectArch(DefaultArch)
	if s.Arch != "" {
		name, err := choose(&e.Selection, "arch", s.Arch, e.Selection.SelectArch, isa.ArchNames)
		if err != nil {
			return e, err
		}
		e.Target, e.Chosen = name, true
	}
	if s.CPU != "" {
		name, err := choose(&e.Selection, "cpu", s.CPU, e.Selection.SelectCPU, isa.CPUNames)
		if err != nil {
			return e, err
		}
		e.Target, e.Chosen = name, true
	}
	if s.FPU != "" && !e.Selection.AddFPU(strings.ToLower(s.FPU)) {
		return e, &SettingError{"fpu", s.FPU, finding.Near(s.FPU, isa.FPUNames())}
	}
	e.Have = e.Selection.Have()
	switch s.StartMode {
	case "":
		if !e.Have.Has(isa.FeatA32) {
			e.Mode = isa.T
		}
	case "arm":
	case "thumb":
		e.Mode = isa.T
	default:
		return e, &SettingError{"startMode", s.StartMode, []string{"arm", "thumb"}}
	}
	switch s.Syntax {
	case "", "divided":
	case "unified":
		e.Unified = true
	default:
		return e, &SettingError{"syntax", s.Syntax, []string{"unified", "divided"}}
	}
	switch s.Guess {
	case "", "auto", "never":
	default:
		return e, &SettingError{"guess", s.Guess, []string{"auto", "never"}}
	}
	switch s.ImplicitIT {
	case "", "never", "arm":
	case "thumb", "always":
		e.Implicit = true
	default:
		return e, &SettingError{"implicitIT", s.ImplicitIT, []string{"never", "arm", "thumb", "always"}}
	}
	switch e.Preprocess = s.Preprocess; s.Preprocess {
	case "", "auto", "always", "never":
	default:
		return e, &SettingError{"preprocess", s.Preprocess, []string{"auto", "always", "never"}}
	}
	switch s.Dialect {
	case "", "auto":
	default:
		d, ok := syntax.DialectNamed(s.Dialect)
		if !ok {
			return e, &SettingError{"dialect", s.Dialect, []string{"auto", "dots", "semicolon", "columns", "modules"}}
		}
		e.Dialect, e.Forced = d, true
	}
	switch s.AlignUnit {
	case "", "power":
	case "bytes":
		e.AlignBytes = true
	default:
		return e, &SettingError{"alignUnit", s.AlignUnit, []string{"power", "bytes"}}
	}
	switch s.WordBytes {
	case "", "4":
	case "2":
		e.HalfWords = true
	default:
		return e, &SettingError{"wordBytes", s.WordBytes, []string{"4", "2"}}
	}
	for _, def := range s.Symbols {
		if _, _, ok := assemble.SymbolSetting(def); !ok {
			return e, &SettingError{"symbols", def, nil}
		}
	}
	return e, nil
}

// choose resolves name+extension+…, and gives the name.
func choose(sel *isa.Selection, setting, value string, choose func(string) bool, all func() []string) (target string, err error) {
	parts := strings.Split(strings.ToLower(value), "+")
	if !choose(parts[0]) {
		return "", &SettingError{setting, value, finding.Near(parts[0], all())}
	}
	for _, x := range parts[1:] {
		if sel.Extend(x) {
			continue
		}
		var out []string
		for _, n := range finding.Near(x, sel.Extensions()) {
			out = append(out, parts[0]+"+"+n)
		}
		if out == nil {
			out = []string{parts[0]}
		}
		return "", &SettingError{setting, value, out}
	}
	return parts[0], nil
}
