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
		text := uncommented(f.Line(i))
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
	spot := program.Spot{Line: it.Line, From: it.Stmt.Start, To: it.Stmt.Start + int32(len(it.Stmt.Name))}
	if old := p.macroBy[key]; old != nil {
		p.Report(p.StmtLoc(it), finding.CodeMacroDef, wording.MacroTwiceColumns(old.Name, wording.Where(p.Program, p.MacroAt(old.Macro).Location, it)))
		return
	}
	p.addMacro(key, &program.Macro{Name: it.Stmt.Name, Parameters: params, File: it.File, Line: it.Line, End: int32(end), Item: id, Spot: spot}, body)
}

var (
	// numbered matches a parameter by its number.
	numbered = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\\([1-9])`) })
	// moduleWord matches a word with what is in front of it, if that makes it another one.
	moduleWord = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[.\\]*[\w?]+`) })
)

// moduleRepeat handles REPT, REPTI and REPTC: the lines up to ENDR, so many times, or once for
// each value, which stands for a name in them.
func (p *pass) moduleRepeat(id int32, l *syntax.Line) {
	it := &p.Items[id]
	s, file, line := it.Stmt, it.File, it.Line
	f := p.Sources[file].File
	end, ok := f.Behind(int(line), syntax.EffRept, syntax.EffEndr)
	defer p.goTo(end+1, 0)
	it.Flags |= program.Opaque
	if !ok {
		p.inexact()
		p.Report(p.StmtLoc(it), finding.CodeMacroDef, wording.Unclosed(s.Directive.Name, "ENDR"))
		return
	}
	x := &program.Expansion{By: s.Directive.Name, File: file, Line: line + 1, N: int32(max(end-int(line)-1, 1))}
	if s.Directive.Args == syntax.ArgsExprs {
		if p.full || p.syntaxError(it) || len(s.Ops) == 0 {
			p.inexact()
			return
		}
		n, known := p.count(it, 0, true, 0)
		switch {
		case !known:
			p.inexact()
		case n < 0:
			p.Report(p.NameLoc(it), finding.CodeDirective, wording.CannotRepeat(s.Name, n))
		case n > 0:
			x.Exact = true
			p.expand(id, f.Part(int(line)+1, end), x, n)
		}
		return
	}
	name, rest, _ := strings.Cut(s.Reduced(l), ",")
	if name = strings.TrimSpace(name); name == "" {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsName(s.Name))
		return
	}
	var values []string
	chars := s.Directive.Unit == 1
	if chars {
		for _, c := range strings.Trim(strings.TrimSpace(rest), `"'`) {
			values = append(values, string(c))
		}
	} else {
		for _, v := range strings.Split(rest, ",") {
			values = append(values, strings.TrimSpace(v))
		}
	}
	var body []string
	for i := int(line) + 1; i < end; i++ {
		body = append(body, moduleWord().ReplaceAllStringFunc(uncommented(f.Line(i)), func(w string) string {
			if w == name {
				return `\` + w
			}
			return w
		}))
	}
	t := p.store.template([]syntax.Param{{Name: name}}, body)
	if p.full || len(values)*len(t.Body) > maxExpansion {
		p.overflow(id, wording.LongText)
		return
	}
	x.Line, x.Name = line, name
	if f := p.repeated(t, rest, chars, values, id); f != nil {
		p.expand(id, f, x, 1)
	}
}

// uncommented is the text of a line without the comment at its end.
func uncommented(l *syntax.Line) string {
	if l.Comment >= 0 {
		return l.Text[:l.Comment]
	}
	return l.Text
}
