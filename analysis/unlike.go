package analysis

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// unlike counts the lines of a program, by whether they look like ARM assembly. It needs no
// list of names: it tells that a source is of another architecture, not of which one.
type unlike struct {
	// strong lines are right as ARM code, and written as nearly nothing else is; right ones are
	// right alone; near ones have a name and registers of ARM code.
	strong, right, near int
	// names are lines with an unknown name, operands those with what no ARM line has.
	names, operands int
	lines           int      // of the wrong ones, all
	marks           []string // each once
	unsure          int      // of the marks, those that may be slips
}

// neverARM finds operands that no ARM line has: registers with a mark in front, with a number
// that is too high or of AArch64, addresses in round brackets or behind '@', one that the
// brackets count up or down, a constant in front of other operands, and '=' behind the register
// that is written.
var neverARM = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?i)` + strings.Join([]string{
		`%[a-z]+\d*\b`,
		`\$[a-z]+\d*\b|\$\d+\b`,
		`\br\d{1,3}\s*=\s*(?:r\d|[0-9\[@])|\bar\.[a-z]+|\]\s*=\s*[rf]\d`,
		`\br(?:1[6-9]|[2-9]\d|1[0-2]\d)\b`,
		`\b[wx](?:\d|[12]\d|30|zr)\b`,
		`-?\w*\(\s*(?:[ad][0-7]|[rsagp]p|r\d+|[a-z]r?\d{1,2})\s*(?:,[^()]*)?\)[+-]?`,
		`\(\s*\w+\s*,\s*[ad][0-7]\s*\)`,
		`@[-+]?\(?(?:e?r\d|sp\b|fp\b|\w+,)`,
		`\[\s*(?:--|\+\+)\s*\w+\s*\]|\[\s*\w+\s*(?:--|\+\+|\+)\s*\]`,
		`^\s*#[^,{}\[\]]+,\s*\[?[a-z]`,
	}, "|"))
})

// highRegister is what a slip may make of a register.
var highRegister = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[rR]\d+$`) })

// armRegister finds the registers of ARM code in operands; for vectors, it takes their names alone.
var armRegister = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?i)\b(?:r\d|r1[0-5]|sp|lr|pc|fp|ip|sl|[cs]psr|apsr)\b`)
})

// completed finds a name that goes on after a comma, as those of PA-RISC do, and a store with its
// address in front of '=', as those of Blackfin are.
var completed = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?i)^[a-z]+,(?:[a-z]{1,3}|[<>=*]+)(?:,n)?[ \t]|^\[[^\]]*\]\s*=|^\w+\s*=\s*\[`)
})

// onlyARM are directives that say that a source is ARM assembly, whatever its lines look like.
var onlyARM = map[string]bool{".syntax": true, ".thumb": true, ".arm": true, ".thumb_func": true, ".force_thumb": true, ".code": true, ".fnstart": true, ".eabi_attribute": true}

// saysARM says whether a program has one of these.
func saysARM(p *program.Program) bool {
	for i := range p.Items {
		if s := p.Items[i].Stmt; s.Kind == syntax.Directive && onlyARM[strings.ToLower(s.Name)] {
			return true
		}
	}
	return false
}

// The bounds of what is unlike ARM code: of lines that are written as ARM ones alone, one in so
// many; and so many lines where few are enough, as all of them are wrong.
const (
	strongPart = 8
	fewUnlike  = 2
	mostMarks  = 8
)

// unlikeARM says whether the lines of a program are those of another architecture, whichever, and
// by what. wrong says whether a statement of the source has an error.
func unlikeARM(p *program.Program, wrong func(it *program.Item) bool) (marks []string, ok bool) {
	var u unlike
	left := maxForeignBytes
	for i := range p.Items {
		if it := &p.Items[i]; p.Sources[it.File].Expansion == nil && left > 0 {
			left -= u.add(p, it, wrong)
		}
	}
	return u.marks[:min(len(u.marks), foreignMarks)], u.decide()
}

func (u *unlike) decide() bool {
	told := u.names + u.operands
	switch sure := len(u.marks) - u.unsure; {
	case u.operands == 0: // names alone may be slips, or macros of elsewhere
		return false
	case told < fewUnlike, u.strong*strongPart > told, u.right+u.near > 2*told:
		return false
	case told < fewForeign:
		return told == u.lines && u.right == 0 && sure > 0 && len(u.marks) >= fewUnlike
	default:
		return sure > 0 && len(u.marks) >= fewUnlike
	}
}

// add counts an item, and says how many bytes it has looked at.
func (u *unlike) add(p *program.Program, it *program.Item, wrong func(it *program.Item) bool) int {
	s := it.Stmt
	switch s.Kind {
	case syntax.Instruction:
		if it.Match.Form != nil && it.Flags&program.Refused == 0 {
			if distinct(s) {
				u.strong++
			} else {
				u.right++
			}
			return 0
		}
	case syntax.Unknown, syntax.Bad, syntax.Assign:
		if !wrong(it) {
			return 0
		}
	default:
		return 0
	}
	u.lines++
	text := p.LineText(it)
	text = text[min(int(s.Start), len(text)):min(int(s.End), len(text))]
	rest := text
	if s.Kind != syntax.Bad {
		rest = text[min(int(s.NameEnd-s.Start), len(text)):]
	}
	mark := strings.TrimSpace(neverARM().FindString(rest))
	switch {
	case mark != "":
		u.operands++
		u.mark(mark, highRegister().MatchString(mark))
	case s.Kind == syntax.Instruction && armRegister().MatchString(rest):
		u.near++
	case s.Kind == syntax.Unknown:
		u.names++
		u.mark(strings.ToLower(s.Name), true)
	case s.Kind == syntax.Bad && completed().MatchString(text):
		u.operands++
		u.mark(strings.Fields(text)[0], false)
	}
	return len(text)
}

func (u *unlike) mark(m string, unsure bool) {
	if len(u.marks) < mostMarks && !slices.Contains(u.marks, m) {
		if u.marks = append(u.marks, m); unsure {
			u.unsure++
		}
	}
}

// distinct says whether an instruction has a register, and besides a constant, an address or a
// list as ARM code has them.
func distinct(s *syntax.Stmt) bool {
	register, other := false, false
	for _, o := range s.Ops {
		switch o.Kind {
		case isa.OpMem, isa.OpList:
			register, other = true, true
		case isa.OpLit, isa.OpImm:
			other = true
		case isa.OpExpr:
		default:
			register = true
		}
	}
	return register && other
}
