package preprocess

import "strings"

// pragma carries out #pragma, or what _Pragma says; word is the place of it. Most
// pragmas are the compiler's and mean nothing here.
func (f *file) pragma(word *token, rest []*token) {
	if len(rest) == 0 {
		return
	}
	r := f.run
	switch rest[0].text {
	case "once":
		f.once = true
		r.readOnce(f.unit.Path)
	case "push_macro", "pop_macro":
		if len(rest) < 4 || rest[1].text != "(" || rest[2].kind != kStr || rest[3].text != ")" {
			f.problem(word.off, word.end, BadDirective, rest[0].text+` takes a macro's name in quotes and brackets`)
			return
		}
		name := strings.Trim(rest[2].text, `"`)
		r.spoil()
		if rest[0].text == "push_macro" {
			if r.pushed == nil {
				r.pushed = map[string][]*Macro{}
			}
			r.pushed[name] = append(r.pushed[name], r.peek(name))
			return
		}
		list := r.pushed[name]
		if len(list) == 0 {
			return
		}
		r.pushed[name] = list[:len(list)-1]
		if m := list[len(list)-1]; m != nil {
			r.table.set(m)
			r.filter[hash(name)] = true
		} else {
			r.table.del(name)
		}
	case "GCC":
		if len(rest) > 1 {
			f.pragmaGCC(word, rest[1].text, rest[2:])
		}
	}
}

// pragmaGCC carries out those pragmas that the preprocessor of GCC minds.
func (f *file) pragmaGCC(word *token, what string, rest []*token) {
	switch what {
	case "poison":
		for _, t := range rest {
			if t.kind != kName {
				f.problem(word.off, word.end, BadDirective, "only names can be poisoned")
				return
			}
			f.run.spoil()
			f.run.table.set(&Macro{Name: t.text, Builtin: true, special: isPoison})
			f.run.filter[hash(t.text)] = true
			f.run.poison = true
		}
	case "warning", "error":
		if len(rest) == 1 && rest[0].kind == kStr {
			say := strings.Trim(rest[0].text, `"`)
			if say == "" {
				say = "#pragma GCC " + what
			}
			f.report(word.off, word.end, Raised, say, what == "warning")
		}
	}
}

// poisoned reports the names among tokens that #pragma GCC poison takes away.
func (f *file) poisoned(toks []*token) {
	if !f.run.poison || f.skipping || len(toks) > 3 && toks[0].text == "#" && toks[3].text == "poison" {
		return
	}
	for _, t := range toks {
		if m := f.run.lookup(t.text); t.kind == kName && m != nil && m.special == isPoison {
			f.problem(t.off, t.end, BadDirective, "the name "+t.text+" must not be used: a #pragma above forbids it")
		}
	}
}

// pragmaText reads the string of _Pragma, named by t, and cuts what it says into
// tokens. It is nil where something else is there.
func (e *expander) pragmaText(t, at *token) []*token {
	e.prevent++
	defer func() { e.args = 0; e.prevent-- }()
	next := func() *token {
		for {
			t := e.get()
			if t == eof && len(e.ctx) > 0 && !e.dead {
				e.backup() // the end of an argument is read again by whom it ends
			}
			if t.kind != kPad {
				return t
			}
		}
	}
	e.args = 1
	open := next()
	e.args = 2
	if open.text == "(" && open.kind == kPunct {
		if s := next(); s.kind == kStr {
			if end := next(); end.text == ")" && end.kind == kPunct {
				text := strings.TrimPrefix(s.text, "L")
				text = strings.NewReplacer(`\\`, `\`, `\"`, `"`).Replace(text[1 : len(text)-1])
				if toks := textTokens(&e.arena, text); toks != nil {
					return toks
				}
				return emptyText
			}
		}
	}
	e.callProblem(at, "_Pragma takes one string in brackets")
	return nil
}
