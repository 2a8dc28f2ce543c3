package describe

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/values"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Values are what is known of registers in a program. The first question finds it out, and
// it is kept. They may be asked by several at a time.
type Values struct {
	lock  sync.Mutex
	paths *flow.Paths
	from  *Values // of an earlier program, whose paths are those of this one; nil: there is none
}

// After is for a program in which each item means what it means in the one that v is of, and
// has its place: only lines and columns differ. The first question takes what is known there,
// and waits while it is being found out; the earlier program has to begin anew then.
func (v *Values) After() *Values {
	if v.lock.TryLock() {
		defer v.lock.Unlock()
		if v.paths == nil {
			return &Values{from: v.from}
		}
	}
	return &Values{from: v}
}

// take gives what is known to another program, nil where nothing is.
func (v *Values) take() *flow.Paths {
	v.lock.Lock()
	defer v.lock.Unlock()
	paths, from := v.paths, v.from
	v.paths, v.from = nil, nil
	if paths == nil && from != nil {
		return from.take()
	}
	return paths
}

// graph puts a question to the graph of the program, which takes as long as an assembly to
// make, and is kept. A question may put others.
func (r *View) graph(question func(paths *flow.Paths)) {
	if r.paths != nil {
		question(r.paths)
		return
	}
	if r.Known == nil {
		r.Known = new(Values)
	}
	v := r.Known
	v.lock.Lock()
	defer v.lock.Unlock()
	if v.paths == nil && v.from != nil {
		if v.paths, v.from = v.from.take(), nil; v.paths != nil {
			v.paths.Evaluator, v.paths.Waits = eval.New(r.Program), r.Waits
		}
	}
	if v.paths == nil {
		v.paths = &flow.Paths{Evaluator: eval.New(r.Program), Waits: r.Waits}
	}
	r.paths = v.paths
	defer func() { r.paths = nil }()
	question(v.paths)
}

// values puts a question to what is known of values; nothing is asked of a program that is too
// large, and of one of which none are kept.
func (r *View) values(question func(paths *flow.Paths, k *flow.Known)) {
	if r.Known != nil && len(r.Items) <= maxGraph {
		r.graph(func(paths *flow.Paths) { question(paths, paths.Known()) })
	}
}

// Held is what a register holds after a line.
type Held struct {
	Item *program.Item
	Reg  isa.Reg
	// Text is the value: a number in decimal or hexadecimal, or a label and a distance.
	Text string
	// Full is the same as a sentence.
	Full string
}

// Held lists what registers hold after the lines from line to line, counted from 0, of a
// file of the program: where it is known as a whole and does not stand on the line. What a
// load takes from constant data is there as the register gets it, a signed byte or halfword
// with its sign.
func (r *View) Held(path string, from, to int) (out []Held) {
	var items []*program.Item
	for i := range r.Items {
		it := &r.Items[i]
		if int(it.Line) >= from && int(it.Line) <= to && r.Sources[it.File].Path == path && r.Sources[it.File].Expansion == nil {
			items = append(items, it)
		}
	}
	r.values(func(_ *flow.Paths, k *flow.Known) {
		k.Some(items, func(l *flow.Line) { out = append(out, r.heldAfter(k, l)...) })
	})
	return out
}

// heldAfter lists what registers hold after a line, as Held does.
func (r *View) heldAfter(k *flow.Known, l *flow.Line) (out []Held) {
	if l.After == nil || l.Item.Match.Form == nil {
		return nil
	}
	e := l.Item.Match.Effects()
	if e.Writes&^(1<<isa.SP|1<<isa.LR|1<<isa.PC) == 0 || obvious(l.Item, &e) {
		return nil
	}
	for g := range isa.Reg(13) {
		w := l.After.Regs[g]
		if _, number := w.Exact(); e.Writes.Has(g) && (number || w.Base.Kind == values.Section) && !w.Assumed {
			out = append(out, Held{l.Item, g, shortText(k, w), g.String() + " is " + r.heldText(k, w) + "."})
		}
	}
	return out
}

// loadedAt is the address that a line reads, if it is one in a section of the program.
func loadedAt(l *flow.Line) (program.Value, bool) {
	if len(l.Touches) == 1 && !l.Touches[0].Store {
		if a := l.Touches[0].Addr; a.Base.Kind == values.Section && !a.Assumed {
			return program.Value{Kind: program.Address, Section: int16(a.Base.ID), N: int64(int32(a.Val))}, true
		}
	}
	return program.Value{}, false
}

// obvious says whether the value that a line makes stands on it: it copies a number.
func obvious(it *program.Item, e *isa.Effects) bool {
	if e.Reads&^(1<<isa.PC) != 0 || e.FlagsRead&isa.C != 0 && !e.Conditional {
		return false
	}
	if it.Literal >= 0 || !e.ReadsMem {
		return it.Stmt.Mnemonic == nil || len(it.Stmt.Ops) < 3
	}
	return false
}

func shortText(k *flow.Known, w values.Word) string {
	if w.Base.Kind == values.Section {
		return strings.Trim(k.PlaceName(w.Base, int32(w.Val)), "`")
	}
	return wording.NumberText(w.Val)
}

func (r *View) heldText(k *flow.Known, w values.Word) string {
	return wording.HeldText(w, k.PlaceName, func(b values.Base, _ int32) string { return k.RoutineName(b) })
}

// registerValue says what is known of a register at a line, where it was set, and where it is
// used next; empty where nothing of it is known.
func (r *View) registerValue(it *program.Item, g isa.Reg) (text string) {
	if it.Stmt.Kind != syntax.Instruction || it.Match.Form == nil || g >= isa.PC {
		return ""
	}
	r.values(func(paths *flow.Paths, k *flow.Known) {
		var lines []string
		if l, ok := k.At(it); ok {
			e := it.Match.Effects()
			before := r.heldText(k, l.Before.Regs[g])
			if before != "" {
				lines = append(lines, fmt.Sprintf("Before this line %v is %s.", g, before))
			}
			if e.Writes.Has(g) && l.After != nil {
				if after := r.heldText(k, l.After.Regs[g]); after != "" {
					lines = append(lines, fmt.Sprintf("After it %v is %s.", g, after))
				}
			}
		}
		if set := r.lineNumbers(paths.SetBefore(it, g)); set != "" {
			lines = append(lines, "Set on "+set+".")
		}
		if used := r.lineNumbers(paths.UsedAfter(it, g)); used != "" {
			lines = append(lines, "Used next on "+used+".")
		}
		text = strings.Join(lines, "  \n")
	})
	return text
}

// lineNumbers names lines by their numbers.
func (r *View) lineNumbers(list []*program.Item) string {
	var nums []int
	for _, it := range list {
		_, line, _ := r.Shown(it)
		nums = append(nums, int(line)+1)
	}
	slices.Sort(nums)
	nums = slices.Compact(nums)
	switch {
	case len(nums) == 0:
		return ""
	case len(nums) == 1:
		return fmt.Sprintf("line %d", nums[0])
	}
	var names []string
	for _, n := range nums {
		names = append(names, fmt.Sprint(n))
	}
	return "lines " + listed(names)
}
