package isa_test

import (
	"encoding/binary"
	"fmt"
	"strings"
	"sync"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// decoding compares what a decoder makes of codes with what disassemblers say of
// them, and counts.
type decoding struct {
	t     *testing.T
	keep  int            // how many cases of a kind are kept
	seen  map[string]int // cases of a kind
	cases []string
	hit   map[*isa.Row]bool

	total, defined, agree int
	silent                int // of instructions that are not described
	early                 int // of later architectures
}

func newDecoding(t *testing.T, keep int) *decoding {
	return &decoding{t: t, keep: keep, seen: map[string]int{}, hit: map[*isa.Row]bool{}}
}

// reading says how codes of an architecture are read.
type reading struct {
	config string // the architecture, as it is in front of a case
	step   int    // bytes from one code to the next
	decode func(w uint32) (isa.Inst, bool)
	// read gives the code that a text means in our table.
	read func(text string) (code uint32, ok bool)
	// self: our own text has to mean the code.
	self bool
	// later says whether a later architecture has what a tool reads in a code that
	// is undefined for us; nil when that is not asked.
	later func(w uint32, theirs string) bool
	// foreign says whether the table leaves out what a tool reads in it.
	foreign func(theirs string) bool
}

// stream lays codes out for the disassemblers, step bytes from one to the next. In
// Thumb state each has halfwords after it that no IT block reaches over: a
// tool that refuses a code may read its second half only.
func stream(words []uint32, thumb bool) (code []byte, step int) {
	step = 4
	if thumb {
		step = 12
	}
	for _, w := range words {
		code = append(code, codeOf(w, thumb)...)
		for i := 4; i < step; i += 2 {
			code = binary.LittleEndian.AppendUint16(code, reftest.Nop16)
		}
	}
	return code, step
}

// listings runs the tools side by side and picks the instruction that is at
// each of n codes.
func listings(n, step int, tools map[string]func() []reftest.Inst) map[string][]reftest.Inst {
	out := map[string][]reftest.Inst{}
	var wait sync.WaitGroup
	var lock sync.Mutex
	for name, f := range tools {
		wait.Go(func() {
			l := make([]reftest.Inst, n)
			for _, in := range f() {
				if in.Offset%step == 0 {
					l[in.Offset/step] = in
				}
			}
			lock.Lock()
			out[name] = l
			lock.Unlock()
		})
	}
	wait.Wait()
	return out
}

// compare takes the codes one by one. Two texts agree when ours, or the table's
// reading of theirs, says so: names and orders differ between tools.
func (d *decoding) compare(r *reading, words []uint32, tools map[string][]reftest.Inst) {
	d.t.Helper()
	for i, w := range words {
		d.total++
		in, ok := r.decode(w)
		text, tag := "undefined", ""
		if ok {
			d.defined++
			d.hit[in.Row] = true
			text = reftest.Normalise(in.Text(true, int64(r.step*i)), r.step*i)
			if got := in.Encode(); got != w && !in.Unpredictable {
				d.t.Errorf("%s %08x: encoded again: %08x", r.config, w, got)
			}
			if in.Unpredictable {
				tag = " unpredictable"
			} else if r.self {
				own := reftest.Normalise(in.Text(true, 0), 0)
				if back, ok := r.read(own); !ok || back != w {
					d.cases = append(d.cases, fmt.Sprintf("%s ourselves %08x: %s; %08x", r.config, w, own, back))
				}
			}
		}
		for name, l := range tools {
			theirs := theirsA(l[i].Text)
			if l[i].Undefined || l[i].Size != 4 {
				theirs = "undefined"
			}
			if theirs == text {
				d.agree++
				continue
			}
			if ok && theirs != "undefined" {
				if back, ok := r.read(theirs); ok && back == w {
					d.agree++
					continue
				}
			}
			if !ok && r.later != nil && r.later(w, theirs) {
				d.early++
				continue
			}
			if !ok && r.foreign(theirs) {
				d.silent++
				continue
			}
			kind := r.config + name + tag + strings.Fields(text)[0] + strings.Fields(theirs)[0]
			if d.seen[kind]++; d.seen[kind] <= d.keep {
				d.cases = append(d.cases, fmt.Sprintf("%s %s%s %08x: %s; %s", r.config, name, tag, w, text, theirs))
			}
		}
	}
}
