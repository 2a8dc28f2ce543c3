package analysis

import (
	"fmt"
	"strconv"
	"strings"

	"narrowgauge/analysis/syntax"
)

// symbolSetting reads NAME=number, the number as C writes it.
func symbolSetting(def string) (name string, v int64, ok bool) {
	name, text, ok := strings.Cut(def, "=")
	name, text = strings.TrimSpace(name), strings.TrimSpace(text)
	if !ok || name == "" || name[0] >= '0' && name[0] <= '9' {
		return "", 0, false
	}
	for i := 0; i < len(name); i++ {
		if !identByte(name[i]) {
			return "", 0, false
		}
	}
	v, err := strconv.ParseInt(text, 0, 64)
	if err != nil {
		u, err := strconv.ParseUint(text, 0, 64)
		return name, int64(u), err == nil
	}
	return name, v, true
}

// settingSymbols defines the symbols that the settings name. Of several with
// one name the first counts, as with the assembler's option.
func (p *pass) settingSymbols() {
	for _, def := range p.in.Symbols {
		name, v, _ := symbolSetting(def)
		if y := p.symbol(name); !y.defined {
			y.defined, y.kind, y.val = true, SymConstant, value{kind: vAbs, n: v}
		}
	}
}

// missing reports a file that the loader does not give.
func (p *pass) missing(at place, w Wanted) {
	p.inexact()
	p.missed = true
	why := ""
	if p.in.Why != nil {
		why = p.in.Why(w)
	}
	if why == "" {
		p.report(at, codeInclude, "The file "+clipText(w.Name, 200)+" is in none of the folders that are searched; the setting include adds folders.")
		return
	}
	p.report(at, codeInclude, "The file "+clipText(w.Name, 200)+" cannot be read: "+why+".")
}

// maxAgain bounds the lines and statements of files that are included more
// than once: files that include each other twice double with every level.
const maxAgain = 1_000_000

// affords says whether a file may be included: the first time always, then as
// long as all that is repeated stays in its bound.
func (p *pass) affords(path string, f *syntax.File, at place) bool {
	if !p.again[path] {
		if p.again == nil {
			p.again = map[string]bool{}
		}
		p.again[path] = true
		return true
	}
	before := p.spentAgain
	for i := 0; i < f.NumLines() && p.spentAgain <= maxAgain; i++ {
		p.spentAgain += cost(f.Line(i))
	}
	if p.spentAgain <= maxAgain {
		return true
	}
	if before <= maxAgain {
		p.report(at, codeInclude, fmt.Sprintf("Files that are included more than once come to more than %d lines and statements here; from this line on none is read again.", maxAgain))
	}
	p.inexact()
	return false
}

// incbin handles .incbin: the bytes of a file, without the first skip ones,
// and no more than count.
func (p *pass) incbin(it *item, l *syntax.Line, grow func(int64)) {
	s := it.stmt
	if len(s.Ops) == 0 || !s.Ops[0].IsStr || len(s.Ops) > 1 && !p.commaAfter(l, &s.Ops[0]) {
		p.report(p.stmtLoc(it), codeDirective, ".incbin needs a file name in double quotes, and commas between its arguments.")
		p.inexact()
		return
	}
	if len(s.Ops) > 3 {
		p.report(p.loc(it, s.Ops[3].Start, s.Ops[3].End), codeDirective, ".incbin takes a file, how many bytes to skip and how many to take; this is a fourth argument.")
		return
	}
	skip, ok := p.count(it, 1, true, 0)
	count, ok2 := p.count(it, 2, true, 0)
	if !ok || !ok2 {
		return
	}
	p.stored(it, "a file's bytes")
	limited := len(s.Ops) > 2 || len(s.Ops) > 1 && p.commaAfter(l, &s.Ops[1])
	if p.in.Size == nil {
		p.inexact()
		return
	}
	w := Wanted{From: p.sources[it.file].path, Name: s.Ops[0].Names.Str}
	have, ok := p.in.Size(w)
	if !ok {
		p.missing(p.loc(it, s.Ops[0].Start, s.Ops[0].End), w)
		return
	}
	if limited && count == 0 {
		p.warn(p.stmtLoc(it), codeDirective, "A count of 0 counts for nothing: .incbin takes the rest of the file.")
		limited = false
	}
	if !limited {
		count = have - skip
	}
	if skip < 0 || count < 0 || count > have || skip > have-count {
		what := fmt.Sprintf("the bytes behind the first %d", skip)
		if limited {
			what = fmt.Sprintf("%d bytes behind the first %d", count, skip)
		}
		p.report(p.stmtLoc(it), codeDirective, fmt.Sprintf("The file has %d bytes, and .incbin wants %s.", have, what))
		return
	}
	grow(count)
}
