package preprocess

// Headers give one name after the other to a thing: #define LAMP SIGNAL_LAMP, #define
// SIGNAL_LAMP OUTPUT_3, and so on. Where such a chain leads to a text without names of
// macros, it is followed once, and then each of its names is replaced by that text at
// once: what comes out is the same, as blanks at the borders of texts in between make no
// difference, and nothing in the text asks which macros are being replaced.

// chains has the ends of chains, as long as no macro changes, and what was noted while
// they were followed is noted in the right place.
type chains struct {
	ends    map[*Macro]chain
	changes int // of the table
}

type chain struct {
	text   []*token
	closed bool // no name in the text is a macro's
}

// isLink says whether a macro's text is one name, and so may lead on.
func isLink(m *Macro) bool {
	return m.special == ordinary && !m.FuncLike && len(m.body) == 1 && m.body[0].kind == kName && !m.body[0].paste
}

// chainEnd is the text that a link leads to in the end. closed is false where it has to be
// replaced step by step.
func (e *expander) chainEnd(m *Macro) (text []*token, closed bool) {
	c := &e.run.chains
	if c.ends == nil || c.changes != e.run.table.changes {
		*c = chains{ends: map[*Macro]chain{}, changes: e.run.table.changes}
	}
	end, known := c.ends[m]
	if !known {
		end = e.follow(m)
	}
	if !end.closed || len(e.run.disabled.many) > 0 {
		return nil, false
	}
	for _, d := range e.run.disabled.few {
		if _, link := c.ends[d]; link {
			return nil, false
		}
	}
	return end.text, true
}

// follow goes from a link to the end of its chain.
func (e *expander) follow(m *Macro) (end chain) {
	c := &e.run.chains
	var links []*Macro
	for {
		if known, ok := c.ends[m]; ok {
			end = known // not closed, if it is of this chain: a circle
			break
		}
		if !e.spend(1) {
			break
		}
		c.ends[m] = chain{}
		links = append(links, m)
		next := e.run.lookup(m.body[0].text)
		if next == nil {
			end = chain{m.body, true}
			break
		}
		if next.special != ordinary || next.FuncLike {
			break
		}
		if m = next; !isLink(m) {
			end = chain{m.body, e.closed(m.body)}
			break
		}
	}
	for k, l := range links {
		c.ends[l] = end
		if !end.closed {
			continue // the steps note what they use
		}
		if k+1 < len(links) {
			e.run.use(links[k+1], l.body[0])
		} else if m != l {
			e.run.use(m, l.body[0])
		}
	}
	return end
}

// closed says whether no name in a text is a macro's, and nothing is pasted.
func (e *expander) closed(text []*token) bool {
	for _, t := range text {
		if t.paste || t.kind == kName && e.run.lookup(t.text) != nil || !e.spend(1) {
			return false
		}
	}
	return true
}
