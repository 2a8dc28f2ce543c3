package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"narrowgauge/analysis"
)

// maxHeld is how many bytes of findings are held in memory, about.
const maxHeld = 8 << 20

// held are findings that cannot be printed yet: a source in a folder is not printed on its
// own if another one, which may come after it, includes it; and what comes behind it waits as
// well. What is too much for the memory is in a file without a name.
type held struct {
	list  []outcome
	bytes int
	file  *os.File // nil: all are in the list
	left  string   // its name, where it cannot be taken away while it is open
	out   *bufio.Writer
	enc   *json.Encoder
	most  int // in place of maxHeld; 0: that
}

// heldFinding is a finding in the file: what is asked of one that is to be printed. Texts are
// bytes, as those of names and sources need not be UTF-8, and JSON keeps only what is.
type heldFinding struct {
	Abs, Path, Message []byte
	Severity           analysis.Severity
	Code               string
	Span               analysis.Span
	JSON               jsonFinding
	Text               []byte
	More               int
	Safe               bool
	Allowed            bool
	At                 [2]int
	Why                []byte
	State              baselineState
	Mark, Line         []byte
}

type heldOutcome struct {
	Abs, Path []byte
	Walked    bool
	Rest      [4]int
	Found     []heldFinding
}

// any says whether something is held.
func (h *held) any() bool { return h.list != nil || h.file != nil }

// add holds what is to be printed of a source.
func (h *held) add(out *outcome) error {
	if h.file != nil {
		return h.write(out)
	}
	h.list = append(h.list, *out)
	h.bytes += checked{found: out.found}.weight() + aFinding
	most := maxHeld
	if h.most > 0 {
		most = h.most
	}
	if h.bytes < most {
		return nil
	}
	file, err := os.CreateTemp("", "narrowgauge-*")
	if err != nil {
		h.bytes = 0 // there is no other place; ask again after as much
		return nil
	}
	if os.Remove(file.Name()) != nil {
		h.left = file.Name()
	}
	h.file, h.out = file, bufio.NewWriter(file)
	h.enc = json.NewEncoder(h.out)
	list := h.list
	h.list = nil
	for i := range list {
		err = errors.Join(err, h.write(&list[i]))
	}
	return err
}

func (h *held) write(out *outcome) error {
	o := heldOutcome{[]byte(out.abs), []byte(out.path), out.walked, out.rest, make([]heldFinding, len(out.found))}
	for i := range out.found {
		f := &out.found[i]
		to := heldFinding{Abs: []byte(f.abs), Path: []byte(f.diag.Path), Message: []byte(f.diag.Message), Severity: f.diag.Severity, Code: f.diag.Code, Span: f.diag.Span,
			JSON: f.json, Text: []byte(f.text), More: f.more, Safe: f.safe, State: f.state, Mark: []byte(f.mark), Line: []byte(f.line)}
		if f.allowed != nil {
			to.Allowed, to.At, to.Why = true, [2]int{f.allowed.at.line, f.allowed.at.column}, []byte(f.allowed.why)
		}
		o.Found[i] = to
	}
	if err := h.enc.Encode(&o); err != nil {
		return fmt.Errorf("%s: its findings are not printed, as there is no room to hold them: %w", out.path, err)
	}
	return nil
}

// each gives what is held, in the order in which it came.
func (h *held) each(do func(out *outcome) error) error {
	for i := range h.list {
		if err := do(&h.list[i]); err != nil {
			return err
		}
	}
	h.list = nil
	if h.file == nil {
		return nil
	}
	err := h.out.Flush()
	if err == nil {
		_, err = h.file.Seek(0, io.SeekStart)
	}
	for dec := json.NewDecoder(bufio.NewReader(h.file)); err == nil; {
		var o heldOutcome
		if err = dec.Decode(&o); errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			break
		}
		if err := do(o.outcome()); err != nil {
			return err
		}
	}
	return fmt.Errorf("what was held cannot be read again: %w", err)
}

func (o *heldOutcome) outcome() *outcome {
	out := &outcome{string(o.Abs), string(o.Path), o.Walked, make([]found, len(o.Found)), o.Rest}
	for i := range o.Found {
		f := &o.Found[i]
		to := found{abs: string(f.Abs), json: f.JSON, text: string(f.Text), more: f.More, safe: f.Safe, state: f.State, mark: string(f.Mark), line: string(f.Line)}
		to.diag.Path, to.diag.Message, to.diag.Severity, to.diag.Code, to.diag.Span = string(f.Path), string(f.Message), f.Severity, f.Code, f.Span
		if f.Allowed {
			to.allowed = &allowed{linePlace{f.At[0], f.At[1]}, string(f.Why)}
		}
		out.found[i] = to
	}
	return out
}

// close gives the file back.
func (h *held) close() {
	if h.file == nil {
		return
	}
	h.file.Close()
	if h.left != "" {
		os.Remove(h.left)
	}
}
