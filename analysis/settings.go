package analysis

import (
	"sort"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Settings is what the assembler's command line would say. The zero value
// of every field means its default.
type Settings struct {
	// Arch is an architecture as the assembler's -march takes it, with
	// extensions ("armv4t", "armv7-a+fp"). Default: armv4t.
	Arch string `json:"arch"`
	// CPU is a core as -mcpu takes it ("arm7tdmi", "cortex-m0"). It wins over
	// Arch.
	CPU string `json:"cpu"`
	// FPU is a floating-point unit as -mfpu takes it. Without it there is only
	// what extensions bring: a core by its name brings none.
	FPU string `json:"fpu"`
	// StartMode is the instruction set before the first mode directive: arm
	// or thumb. Default: arm, or thumb where the architecture has nothing else.
	StartMode string `json:"startMode"`
	// Syntax before the first .syntax directive: unified or divided.
	// Default: divided.
	Syntax string `json:"syntax"`
	// ImplicitIT is where the assembler inserts IT lines by itself, as its
	// option -mimplicit-it takes it: never, arm, thumb or always. With thumb
	// and always, a conditional line of T32 code that stands in no IT block is
	// taken in a block that the assembler makes; never and arm mean the same
	// here. Default: never.
	ImplicitIT string `json:"implicitIT"`
	// Dialect is how the sources are written: auto (each file as it looks),
	// dots (directives with a dot, comments with @, statements separated by ;),
	// semicolon (the same with ; comments and labels at column one) or columns
	// (AREA, DCD, EQU and their kin, labels at column one). Default: auto.
	Dialect string `json:"dialect"`
	// AlignUnit is what the number behind .align counts: power (of two) or
	// bytes. Default: power.
	AlignUnit string `json:"alignUnit"`
	// WordBytes is how many bytes .word has: 4 or 2. Default: 4.
	WordBytes string `json:"wordBytes"`
	// Include lists the folders in which .include looks, after the folder of
	// the including file.
	Include []string `json:"include"`
	// Preprocess is whether sources go through the C preprocessor first: auto,
	// always or never. Auto takes those with a name that ends in .S or .sx.
	// Default: auto.
	Preprocess string `json:"preprocess"`
	// Defines lists macros of the preprocessor that are defined in front of
	// the first line, as its option -D takes them: NAME, NAME=text, or
	// NAME(parameters)=text.
	Defines []string `json:"defines"`
	// Prelude lists files that the preprocessor reads in front of the first line,
	// as its option -include takes them. Only the macros in them count.
	Prelude []string `json:"prelude"`
	// Symbols lists absolute symbols that are defined in front of the first
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
	Setting string   // arch, cpu, fpu, startMode, syntax, implicitIT, preprocess, dialect, alignUnit, wordBytes, symbols
	Value   string   // as given
	Near    []string // known values that are close to it, nearest first
}

// Error says what is wrong and lists near names.
func (e *SettingError) Error() string {
	s := "unknown " + e.Setting + " \"" + e.Value + "\""
	if len(e.Near) > 0 {
		s += "; near names: " + strings.Join(e.Near, ", ")
	}
	return s
}

// env is what a set of settings or directives comes to.
type env struct {
	mode    isa.State
	unified bool
	// implicit: the assembler inserts IT lines in T32 code.
	implicit   bool
	preprocess string // auto, always or never
	sel        isa.Selection
	have       isa.Features // what sel has
	target     string       // the architecture's or core's name, for messages
	chosen     bool         // somebody named it
	// dialect is that of the sources, if forced; else each has its own.
	dialect    syntax.Dialect
	forced     bool
	alignBytes bool // .align counts bytes
	halfWords  bool // .word has 2 bytes
}

// Resolve checks the settings; the error is a *SettingError.
func (s *Settings) Resolve() error {
	_, err := s.env()
	return err
}

func (s *Settings) env() (env, error) {
	e := env{mode: isa.A, target: DefaultArch}
	if s == nil {
		s = &Settings{}
	}
	e.sel.SelectArch(DefaultArch)
	if s.Arch != "" {
		if err := choose(&e, "arch", s.Arch, e.sel.SelectArch, isa.ArchNames); err != nil {
			return e, err
		}
	}
	if s.CPU != "" {
		if err := choose(&e, "cpu", s.CPU, e.sel.SelectCPU, isa.CPUNames); err != nil {
			return e, err
		}
	}
	if s.FPU != "" && !e.sel.AddFPU(strings.ToLower(s.FPU)) {
		return e, &SettingError{"fpu", s.FPU, near(s.FPU, isa.FPUNames())}
	}
	e.have = e.sel.Have()
	switch s.StartMode {
	case "":
		if !e.have.Has(isa.FeatA32) {
			e.mode = isa.T
		}
	case "arm":
	case "thumb":
		e.mode = isa.T
	default:
		return e, &SettingError{"startMode", s.StartMode, []string{"arm", "thumb"}}
	}
	switch s.Syntax {
	case "", "divided":
	case "unified":
		e.unified = true
	default:
		return e, &SettingError{"syntax", s.Syntax, []string{"unified", "divided"}}
	}
	switch s.ImplicitIT {
	case "", "never", "arm":
	case "thumb", "always":
		e.implicit = true
	default:
		return e, &SettingError{"implicitIT", s.ImplicitIT, []string{"never", "arm", "thumb", "always"}}
	}
	switch e.preprocess = s.Preprocess; s.Preprocess {
	case "", "auto", "always", "never":
	default:
		return e, &SettingError{"preprocess", s.Preprocess, []string{"auto", "always", "never"}}
	}
	switch s.Dialect {
	case "", "auto":
	default:
		d, ok := syntax.DialectNamed(s.Dialect)
		if !ok {
			return e, &SettingError{"dialect", s.Dialect, []string{"auto", "dots", "semicolon", "columns"}}
		}
		e.dialect, e.forced = d, true
	}
	switch s.AlignUnit {
	case "", "power":
	case "bytes":
		e.alignBytes = true
	default:
		return e, &SettingError{"alignUnit", s.AlignUnit, []string{"power", "bytes"}}
	}
	switch s.WordBytes {
	case "", "4":
	case "2":
		e.halfWords = true
	default:
		return e, &SettingError{"wordBytes", s.WordBytes, []string{"4", "2"}}
	}
	for _, def := range s.Symbols {
		if _, _, ok := symbolSetting(def); !ok {
			return e, &SettingError{"symbols", def, nil}
		}
	}
	return e, nil
}

// choose resolves name+extension+….
func choose(e *env, setting, value string, choose func(string) bool, all func() []string) error {
	parts := strings.Split(strings.ToLower(value), "+")
	if !choose(parts[0]) {
		return &SettingError{setting, value, near(parts[0], all())}
	}
	for _, x := range parts[1:] {
		if e.sel.Extend(x) {
			continue
		}
		var out []string
		for _, n := range near(x, e.sel.Extensions()) {
			out = append(out, parts[0]+"+"+n)
		}
		if out == nil {
			out = []string{parts[0]}
		}
		return &SettingError{setting, value, out}
	}
	e.target, e.chosen = parts[0], true
	return nil
}

// near lists up to five of names that are close to s, the nearest first.
func near(s string, names []string) []string {
	s = strings.ToLower(s)
	type cand struct {
		n string
		d int
	}
	var c []cand
	for _, n := range names {
		d := distance(s, n)
		if strings.HasPrefix(n, s) || strings.HasPrefix(s, n) && len(n) > 3 {
			d = min(d, 2)
		}
		if d <= max(2, len(s)/3) && d < len(s) {
			c = append(c, cand{n, d})
		}
	}
	sort.SliceStable(c, func(i, j int) bool { return c[i].d < c[j].d })
	var out []string
	for i := 0; i < len(c) && i < 5; i++ {
		out = append(out, c[i].n)
	}
	return out
}

// distance is the number of single-letter edits between a and b.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diag := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			d := diag
			if a[i-1] != b[j-1] {
				d++
			}
			diag = row[j]
			row[j] = min(d, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}
