package assemble

import (
	"fmt"
	"regexp"
	"strings"
	"sync"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// moduleDefine handles name MACRO of the dialect of modules. Its parameters stand in the body
// as they are, and may be called by their numbers, behind a backslash.
func (p *pass) moduleDefine(id int32, l *syntax.Line) {
	it := &p.Items[id]
	f := p.Sources[it.File].File
	end, ok := f.Behind(int(it.Line), syntax.EffMacro, syntax.EffEndm)
	p.goTo(end+1, 0)
	if !ok {
		p.Report(p.StmtLoc(it), finding.CodeMacroDef, wording.Unclosed("MACRO", "ENDM"))
		return
	}
	var params []syntax.Param
	for _, n := range strings.FieldsFunc(it.Stmt.Reduced(l), func(r rune) bool { return r == ',' || r == ' ' || r == '\t' }) {
		params = append(params, syntax.Param{Name: n})
	}
	var body []string
	for i := int(it.Line) + 1; i < end; i++ {
		text := f.Line(i).Text
		if c := f.Line(i).Comment; c >= 0 {
			text = text[:c]
		}
		for _, m := range numbered().FindAllStringSubmatch(text, -1) {
			for n := int(m[1][0] - '0'); len(params) < n; {
				params = append(params, syntax.Param{Name: fmt.Sprintf("argument%d", len(params)+1)})
			}
		}
		body = append(body, text)
	}
	named := map[string]bool{}
	for _, param := range params {
		named[param.Name] = true
	}
	for i, text := range body {
		text = numbered().ReplaceAllStringFunc(text, func(m string) string { return `\` + params[m[1]-'1'].Name })
		body[i] = moduleWord().ReplaceAllStringFunc(text, func(w string) string {
			if named[w] {
				return `\` + w
			}
			return w
		})
	}
	key := lower(it.Stmt.Name)
	at := program.Place{Location: p.Loc(it, it.Stmt.Start, it.Stmt.Start+int32(len(it.Stmt.Name))).Location}
	if old := p.macroBy[key]; old != nil {
		p.Report(p.StmtLoc(it), finding.CodeMacroDef, wording.MacroTwiceColumns(old.Name, wording.Where(p.Program, old.At.Location, it)))
		return
	}
	p.addMacro(key, &program.Macro{Name: it.Stmt.Name, Parameters: params, File: it.File, Line: it.Line, End: int32(end), Item: id, At: at}, body)
}

var (
	// numbered matches a parameter by its number.
	numbered = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\\([1-9])`) })
	// moduleWord matches a word with what is in front of it, if that makes it another one.
	moduleWord = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[.\\]*\w+`) })
)

// moduleRepeat passes REPT and what it repeats: how much that is, is not looked at.
func (p *pass) moduleRepeat(id int32) {
	it := &p.Items[id]
	end, ok := p.Sources[it.File].File.Behind(int(it.Line), syntax.EffRept, syntax.EffEndr)
	p.goTo(end+1, 0)
	if p.inexact(); !ok {
		p.Report(p.StmtLoc(it), finding.CodeMacroDef, wording.Unclosed("REPT", "ENDR"))
	}
}
