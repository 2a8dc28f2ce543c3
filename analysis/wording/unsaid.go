package wording

import (
	"path"
	"regexp"
	"strings"
	"sync"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
)

// maxLeftOut is how many bytes of what conditions leave out are searched for names.
const maxLeftOut = 4 << 20

// definition finds the names that lines define; group 1 is the name.
var definition = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?m)^[ \t]*(?:#[ \t]*define|\.macro|\.equ|\.set)[ \t]+([A-Za-z_.$][A-Za-z0-9_.$]*)`)
})

// definedAt is a definition that a condition of the preprocessor leaves out.
type definedAt struct {
	file string
	line int // from 0
}

// underCondition says whether a finding is about a name that the source defines, but under a
// condition that is not met: then it is the command line that says whether it is missing, and
// where nothing is known of that, nobody can tell.
func (p *Reporter) underCondition(cause string, at program.Place, code string) bool {
	name, ok := strings.CutPrefix(cause, finding.CauseName)
	if !ok || !p.Unsaid {
		return false
	}
	if p.leftOut == nil {
		p.leftOut = map[string]definedAt{}
		p.findLeftOut()
	}
	d, ok := p.leftOut[strings.ToLower(name)]
	if !ok {
		return false
	}
	p.Emit(at, finding.Diagnostic{Code: code, Severity: finding.Hint, Message: UnderCondition(name, d.file, d.line), Cause: cause})
	return true
}

// findLeftOut looks for definitions in what conditions leave out.
func (p *Reporter) findLeftOut() {
	left := maxLeftOut
	for i := range p.Sources {
		u := p.Sources[i].Unit
		if u == nil {
			continue
		}
		for _, s := range u.Inactive {
			text := u.Raw.Text()[s.Start:s.End]
			if left -= len(text); left < 0 {
				return
			}
			for _, m := range definition().FindAllStringSubmatchIndex(text, -1) {
				name := strings.ToLower(text[m[2]:m[3]])
				if _, ok := p.leftOut[name]; !ok {
					p.leftOut[name] = definedAt{path.Base(u.Path), u.Raw.LineAt(s.Start + m[2])}
				}
			}
		}
	}
}

// From so many lines that begin as declarations of C do on, a header is one for C.
const fewDeclarations = 4

// declaration finds lines of C that no assembly has.
var declaration = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?m)^[ \t]*(?:[{}]|(?:typedef|extern|static|struct|enum|union|unsigned|int|void|char|const|return)\b.*[;{(])`)
})

// textOfC puts one hint in the place of all that is wrong with a header that has text of C,
// where nothing is known of the command line: it would say which part of it is for the
// assembler.
func (p *Reporter) textOfC(diags []finding.Diagnostic) []finding.Diagnostic {
	if !p.Unsaid || len(p.Sources) < 2 || !p.Sources[0].Preprocessed() {
		return diags
	}
	known := map[string]bool{}
	told := map[string]bool{}
	out := diags[:0]
	for i := range diags {
		d := &diags[i]
		if d.Path == p.Path || d.Severity > finding.Warning {
			out = append(out, *d)
			continue
		}
		is, ok := known[d.Path]
		if !ok {
			if id := p.FileOf(d.Path); id >= 0 && p.Sources[id].Preprocessed() {
				is = len(declaration().FindAllString(p.Sources[id].File.Text(), fewDeclarations)) == fewDeclarations
			}
			known[d.Path] = is
		}
		switch {
		case !is:
			out = append(out, *d)
		case !told[d.Path]:
			told[d.Path] = true
			out = append(out, finding.Diagnostic{Location: d.Location, Code: finding.CodeSyntax, Severity: finding.Hint, Message: TextOfC(path.Base(d.Path))})
		}
	}
	return out
}
