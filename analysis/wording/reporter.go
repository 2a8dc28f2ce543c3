package wording

import (
	"strconv"
	"strings"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// toldKey is a finding in an expansion: once is enough.
type toldKey struct {
	at      finding.Location
	made    program.Place
	code    string
	message string
}

// fromExpansion completes a finding about a line of an expansion: the line in
// the definition is related to it. It says whether it was told already.
func (p *Reporter) fromExpansion(m *program.Made, d *finding.Diagnostic) bool {
	s := &p.Sources[m.File]
	where := p.WrittenLoc(m.File, m.Line)
	k := toldKey{d.Location, where, d.Code, d.Message}
	if p.told[k] {
		return true
	}
	if p.told == nil {
		p.told = map[toldKey]bool{}
	}
	p.told[k] = true
	// Alike findings with other numbers: some are enough.
	if s.Expansion.Macro == nil {
		n := 0
		for ; n < 10 && p.told[toldKey{d.Location, where, d.Code, strconv.Itoa(n)}]; n++ {
		}
		if n == 10 {
			return true
		}
		p.told[toldKey{d.Location, where, d.Code, strconv.Itoa(n)}] = true
	}
	d.Expanded = true
	text := s.File.Line(int(m.Line)).Text
	if m.Stmt != nil && int(m.Stmt.End) <= len(text) {
		text = text[m.Stmt.Start:m.Stmt.End]
	}
	text = ClipText(strings.TrimSpace(text), 80)
	for up := m.File; p.Sources[up].Expansion != nil && len(d.Related) < 6; {
		s := &p.Sources[up]
		if x := s.Expansion; x.Macro != nil {
			msg := "in " + x.Macro.Name + ": " + text
			d.Related = append(d.Related, finding.Related{Location: where.Location, Message: msg})
			it := &p.Items[s.From]
			where = p.WrittenLoc(it.File, it.Line)
			text = ClipText(strings.TrimSpace(p.LineText(it)[it.Stmt.Start:it.Stmt.End]), 80)
		} else if x.Name != "" && up == m.File {
			d.Related = append(d.Related, finding.Related{Location: where.Location, Message: "in " + x.By + ", as: " + text})
		}
		up = p.Items[s.From].File
	}
	return false
}

// fromUse completes a finding that is about what a macro of the preprocessor
// made: its definition is related to it, with what it makes here.
func (p *Reporter) fromUse(m *preprocess.Macro, d *finding.Diagnostic) {
	if m.Path == "" {
		return
	}
	text := m.Text
	if file := p.FileOf(d.Path); file >= 0 && p.Sources[file].Unit != nil {
		if _, whole, made := p.Sources[file].Unit.UseAt(d.Span.Start); whole != nil {
			m, text = whole, made
		}
	}
	d.Related = append(d.Related, finding.Related{Location: finding.Location{Path: m.Path, Span: finding.Span{Start: m.Start, End: m.End}}, Message: "the macro " + m.Name + " makes: " + ClipText(strings.TrimSpace(text), 80)})
}

// mayBeMissing says whether a finding is about a name that a file which was
// not found may define.
func mayBeMissing(code string) bool {
	switch code {
	case finding.CodeMnemonic, finding.CodeUnknownDir, finding.CodeUndefined, finding.CodeExternal:
		return true
	}
	return false
}

// Reporter makes findings of what goes wrong, in words.
type Reporter struct {
	eval.Evaluator
	Diags   []finding.Diagnostic
	Lacking bool // a file was not found: names may come from it
	Missed  bool // a file that is included is not there
	Ended   bool
	Unsaid  bool                 // nothing is known of the command line
	Mute    bool                 // nobody asks for findings
	Said    int                  // how many there would be, or more
	leftOut map[string]definedAt // by name in lower case; nil: not looked for yet
	more    *finding.Location    // of the first finding for which there is no room
	told    map[toldKey]bool
	room    []isa.Refusal // for those of the next instruction
	// supplied are the symbols of which it has been said that the linker supplies them.
	supplied map[*program.Symbol]bool
	near     map[[2]string][]string // names close to others, by code and name
}

// Spelled is the name of the directive with an effect in the dialect of an item's file.
func (p *Reporter) Spelled(it *program.Item, e syntax.Effect) string {
	return syntax.Spelled(p.DialectOf(it), e)
}

// HalfOperator is the relocation operator for the half that an instruction moves.
var HalfOperator = map[string]string{"movw": ":lower16:", "movt": ":upper16:"}

func (p *Reporter) Duplicate(it *program.Item, s *program.Symbol, a, b int32) {
	at := p.DefinedAt(s).Location
	d := finding.Diagnostic{Code: finding.CodeDuplicate, Message: s.Name + " already has a definition, " + Where(p.Program, at, it) + "."}
	if !s.Label && it.Stmt.Kind == syntax.Label && !(s.Once || s.ThumbFn && s.Kind == program.SymConstant) {
		d.Severity = finding.Warning // assemblers go on with the label
	}
	if at.Path != "" {
		d.Related = []finding.Related{{Location: at, Message: "the first definition of " + s.Name}}
	}
	p.Emit(p.Loc(it, a, b), d)
}
