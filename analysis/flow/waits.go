package flow

import (
	"strconv"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/values"
	"narrowgauge/isa"
)

// Waits are the wait states of memory: how many cycles an access to a word of a region takes
// longer than one, by the region: a section's name, StackRegion, or addresses as in
// 0x40000000-0x5fffffff.
type Waits map[string]int64

// StackRegion is where the stack is.
const StackRegion = "stack"

// MaxWaits bounds the wait states of a region.
const MaxWaits = 1000

// Addresses are the bounds of a region that is written as addresses.
func Addresses(region string) (from, to uint32, ok bool) {
	a, b, _ := strings.Cut(region, "-")
	x, err := strconv.ParseUint(a, 0, 32)
	y, err2 := strconv.ParseUint(b, 0, 32)
	return uint32(x), uint32(y), err == nil && err2 == nil && x <= y
}

// of are the wait states at an address; known is false where the region is not.
func (w Waits) of(g *graph, a values.Word) (n int, known bool) {
	switch {
	case a.Base.Kind == values.Section || a.Base.Kind == values.Part:
		return int(w[g.Sections[a.Base.ID].Name]), true
	case a.Base.Kind == values.Entry && a.Base.Reg == isa.SP:
		return int(w[StackRegion]), true
	case a.Base.Kind != values.None:
		return 0, false
	}
	known = true
	found := 0
	for region, waits := range w {
		if from, to, ok := Addresses(region); ok && a.Hi >= from && a.Lo <= to {
			n, known = int(waits), known && a.Lo >= from && a.Hi <= to
			found++
		}
	}
	if _, exact := a.Exact(); found == 0 {
		return 0, exact
	}
	return n, known && found == 1
}

// most is the largest number of wait states of any region.
func (w Waits) most() (n int) {
	for _, x := range w {
		n = max(n, int(x))
	}
	return n
}

// waiting is by how many cycles wait states make a line longer.
type waiting struct {
	least, most int
	fetch       int // those of fetching its code, which are in most
}

// with adds wait states to what a line takes.
func (c count) with(w waiting) count {
	c.least, c.most, c.late = c.least+w.least, c.most+w.most, w.fetch
	return c
}

// waitsOf are the wait states at lines, by item. Those of fetching code are between none, as
// of memory that is read ahead, and one wait for each word that an instruction is in. An
// access to what is not known is to any region. Where a line goes elsewhere, the core fetches
// two words more (ARM7TDMI data sheet, 4.4.2: the pipeline is filled anew).
func (g *graph) waitsOf(items []*program.Item) map[int32]waiting {
	if len(g.Waits) == 0 {
		return nil
	}
	out := map[int32]waiting{}
	most := g.Waits.most()
	for _, it := range items {
		word := int(g.Waits[g.Sections[it.Section].Name])
		x := waiting{fetch: int((it.Offset&3+it.Size+3)/4) * word}
		x.most = x.fetch
		if it.Match.Form != nil && (it.Match.Effects().Writes.Has(isa.PC) || it.Match.Form.Row.Flow != isa.FlowNext) {
			x.most += 2 * word
		}
		out[it.Index] = x
	}
	seen := map[int32]bool{}
	g.Known().Some(items, func(l *Line) {
		x := out[l.Item.Index]
		for _, t := range l.Touches {
			if n, ok := g.Waits.of(g, t.Addr); ok {
				x.least, x.most = x.least+n, x.most+n
			} else {
				x.most += most
			}
		}
		seen[l.Item.Index] = len(l.Touches) > 0
		out[l.Item.Index] = x
	})
	for _, it := range items { // those whose addresses nothing follows
		if it.Match.Form == nil || seen[it.Index] {
			continue
		}
		if e := it.Match.Effects(); e.ReadsMem || e.WritesMem {
			x := out[it.Index]
			x.most += most * max(it.Match.Moved(), 1)
			out[it.Index] = x
		}
	}
	return out
}
