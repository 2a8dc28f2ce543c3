package analysis

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/format"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Settings is what the assembler's command line would say, and what is to be said of the
// code. The zero value of every field means its default. [Definitions] says what each is.
type Settings struct {
	Arch            string           `json:"arch"`
	Guess           string           `json:"guess"`
	CPU             string           `json:"cpu"`
	FPU             string           `json:"fpu"`
	StartMode       string           `json:"startMode"`
	Syntax          string           `json:"syntax"`
	ImplicitIT      string           `json:"implicitIT"`
	Dialect         string           `json:"dialect"`
	AlignUnit       string           `json:"alignUnit"`
	WordBytes       string           `json:"wordBytes"`
	Include         []string         `json:"include"`
	Preprocess      string           `json:"preprocess"`
	Defines         []string         `json:"defines"`
	Prelude         []string         `json:"prelude"`
	Symbols         []string         `json:"symbols"`
	CompileCommands string           `json:"compileCommands"`
	Severity        []string         `json:"severity"`
	Format          []string         `json:"format"`
	Budget          map[string]int64 `json:"budget"`
	Waits           map[string]int64 `json:"waits"`
}

// DefaultArch is the architecture without a setting: what it takes runs on
// every core that has T16 code.
const DefaultArch = "armv4t"

// SettingError says which setting has a value that nothing knows.
type SettingError struct {
	Setting string   // its name in JSON
	Value   string   // as given; of a list, the item
	Near    []string // known values that are close to it, nearest first
	Why     string   // what is wrong, where that says more than the values
}

// Error says what is wrong, and lists similar names or all that there are.
func (e *SettingError) Error() string {
	value := strconv.Quote(e.Value)
	kind := map[string]string{"arch": "architecture", "cpu": "core", "fpu": "floating-point unit"}[e.Setting]
	switch {
	case e.Why != "":
		return e.Why
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

// named says whether the settings name a core or an architecture.
func (s *Settings) named() bool { return s != nil && (s.CPU != "" || s.Arch != "") }

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
		return e, &SettingError{Setting: "fpu", Value: s.FPU, Near: finding.Near(s.FPU, isa.FPUNames())}
	}
	e.Have = e.Selection.Have()
	if err := s.chosen(); err != nil {
		return e, err
	}
	if s.StartMode == "thumb" || s.StartMode == "" && !e.Have.Has(isa.FeatA32) {
		e.Mode = isa.T
	}
	e.Unified = s.Syntax == "unified"
	e.Implicit = s.ImplicitIT == "thumb" || s.ImplicitIT == "always"
	e.Preprocess = s.Preprocess
	e.Dialect, e.Forced = syntax.DialectNamed(s.Dialect)
	e.AlignBytes, e.HalfWords = s.AlignUnit == "bytes", s.WordBytes == "2"
	for _, def := range s.Symbols {
		if _, _, ok := assemble.SymbolSetting(def); !ok {
			return e, &SettingError{Setting: "symbols", Value: def}
		}
	}
	if _, err := severities(s.Severity); err != nil {
		return e, err
	}
	for region, n := range s.Waits {
		if _, _, ok := flow.Addresses(region); !ok && region != "" && region[0] >= '0' && region[0] <= '9' {
			return e, &SettingError{Setting: "waits", Value: region, Why: strconv.Quote(region) + " is no region: addresses are written as in 0x40000000-0x5fffffff"}
		}
		if n < 0 || n > flow.MaxWaits {
			return e, &SettingError{Setting: "waits", Value: region, Why: fmt.Sprintf("%s cannot have %d wait states; it can have 0 to %d", region, n, flow.MaxWaits)}
		}
	}
	for _, item := range s.Format {
		if _, err := format.Parse([]string{item}); err != nil {
			return e, &SettingError{Setting: "format", Value: item, Why: err.Error()}
		}
	}
	return e, nil
}

// chosen checks the settings that are one of some words.
func (s *Settings) chosen() error {
	for i := range definitions {
		d := &definitions[i]
		if text, ok := s.Field(d.Name).(*string); ok && d.Values != nil && *text != "" && !d.takes(*text) {
			return &SettingError{Setting: d.Name, Value: *text, Near: d.words()}
		}
	}
	return nil
}

// severities reads the setting of that name: for each check, what its findings are to be.
// Off is the severity after the mildest.
func severities(list []string) (map[string]Severity, error) {
	out := map[string]Severity{}
	for _, item := range list {
		code, word, _ := strings.Cut(item, "=")
		i := slices.Index(severityWords, word)
		if finding.ByCode(code) == nil {
			var codes []string
			for _, c := range finding.Registry {
				codes = append(codes, c.Code)
			}
			why := "there is no check " + strconv.Quote(code)
			if near := finding.Near(code, codes); len(near) > 0 {
				why += "; similar names: " + strings.Join(near, ", ")
			}
			return nil, &SettingError{Setting: "severity", Value: item, Why: why}
		}
		if i < 0 {
			return nil, &SettingError{Setting: "severity", Value: item, Why: strconv.Quote(item) + " is not a check and its severity, as in " + code + "=hint; a severity is one of " + strings.Join(severityWords, ", ")}
		}
		out[code] = Severity(i)
	}
	return out, nil
}

// severityWords are the severities as the setting has them, in their order.
var severityWords = []string{"error", "warning", "information", "hint", "off"}

// off is the severity of findings that are not shown.
const off = Hint + 1

// choose resolves name+extension+…, and gives the name.
func choose(sel *isa.Selection, setting, value string, choose func(string) bool, all func() []string) (target string, err error) {
	parts := strings.Split(strings.ToLower(value), "+")
	if !choose(parts[0]) {
		return "", &SettingError{Setting: setting, Value: value, Near: finding.Near(parts[0], all())}
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
		return "", &SettingError{Setting: setting, Value: value, Near: out}
	}
	return parts[0], nil
}
