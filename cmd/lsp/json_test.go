package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"testing"

	"narrowgauge/analysis"
)

// pieces notes the largest piece that is written, and fails after so many.
type pieces struct {
	buf           bytes.Buffer
	largest, left int
}

func (p *pieces) Write(b []byte) (int, error) {
	if p.left--; p.left == 0 {
		return 0, errors.New("no room")
	}
	p.largest = max(p.largest, len(b))
	return p.buf.Write(b)
}

// printAll prints findings as check does.
func printAll(out io.Writer, how listing, all []found) error {
	r := newReport(out, style{}, how, nil)
	for i := range all {
		if err := r.add(&all[i]); err != nil {
			return err
		}
	}
	return r.end(&tally{})
}

// TestPrintJSON holds that findings are printed as one list, as the encoder has it, but in
// small pieces, and that a failure is told.
func TestPrintJSON(t *testing.T) {
	for _, n := range []int{0, 1, 2, 5000} {
		var all []found
		want := []jsonFinding{}
		for i := range n {
			f := jsonFinding{File: "box <1> & \u2028.s", Line: i, Column: 2, EndLine: 3, EndColumn: 4, Severity: "error", Code: "constant-range", Message: fmt.Sprintf("\"%d\" & <\xff>\n\u00e4", i)}
			all, want = append(all, found{json: f}), append(want, f)
		}
		var whole bytes.Buffer
		enc := json.NewEncoder(&whole)
		enc.SetEscapeHTML(false)
		enc.SetIndent("", "  ")
		if err := enc.Encode(want); err != nil {
			t.Fatal(err)
		}
		var out pieces
		if err := printAll(&out, listing{format: "json"}, all); err != nil || out.buf.String() != whole.String() {
			t.Errorf("%d findings: %v, %.300s, want %.300s", n, err, out.buf.String(), whole.String())
		}
		if out.largest > 64<<10 {
			t.Errorf("%d findings: a piece of %d bytes", n, out.largest)
		}
		if err := printAll(&pieces{left: 1}, listing{format: "json"}, all); err == nil {
			t.Errorf("%d findings: nobody says that there is no room", n)
		}
	}
}

// TestJSONOfOtherFile holds that rewrites are of the source's own findings: one at the same
// place in an included file has none.
func TestJSONOfOtherFile(t *testing.T) {
	p, f := fakeProgram("bad\n")
	span := analysis.Span{Start: 0, End: 3}
	d := analysis.Diagnostic{Location: analysis.Location{Path: "box.s", Span: span}, Code: "code"}
	r := &renderer{place: place, p: p, offers: map[findingKey][]analysis.Action{}}
	if got := r.json(d, f); got.Rewrites != nil {
		t.Errorf("not asked for: %+v", got.Rewrites)
	}
	r.offer(d, []analysis.Action{{Title: "T", Code: "code", Target: span}, {Title: "of another finding", Code: "else", Target: span}})
	if got := r.json(d, f); len(got.Rewrites) != 1 || got.Rewrites[0].Title != "T" {
		t.Errorf("%+v", got.Rewrites)
	}
	d.Path = "part.inc"
	if got := r.json(d, f); got.Rewrites != nil {
		t.Errorf("in another file: %+v", got.Rewrites)
	}
}
