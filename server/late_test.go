package server

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"go.lsp.dev/protocol"
)

// TestLateStay holds that findings that come later stay while something else is typed: no
// answer in between is without them, and they are where their lines are.
func TestLateStay(t *testing.T) {
	var text strings.Builder
	text.WriteString("\t.cpu cortex-m0\n\t.syntax unified\n\t.thumb\n")
	for i := range 1200 {
		fmt.Fprintf(&text, "\tmovs r0, #%d\n\tstr r0, [r1]\n\tadds r1, #4\n", i%250)
	}
	head := text.String()
	tail := "\tb .\nlamp:\n\tbl delay\n\tbx lr\ndelay:\n\tbx lr\n"
	lines := strings.Count(head, "\n")
	c := dial(t, Options{})
	c.initialize(allCaps(), nil)
	c.open(doc, 1, head+tail)
	lost := func(list []protocol.Diagnostic) (at []int) {
		for _, d := range list {
			if d.Code == "return-address-lost" {
				at = append(at, int(d.Range.Start.Line))
			}
		}
		return at
	}
	await := func(version int) (all [][]int) {
		t.Helper()
		c.find(fmt.Sprintf("late findings of version %d", version), func(m incoming) bool {
			var p publishParams
			if m.Method != "textDocument/publishDiagnostics" || json.Unmarshal(m.Params, &p) != nil || p.Version == nil || int(*p.Version) != version {
				return false
			}
			all = append(all, lost(p.Diagnostics))
			return len(all[len(all)-1]) > 0
		})
		return all
	}
	if got := await(1); fmt.Sprint(got[len(got)-1]) != fmt.Sprint([]int{lines + 3}) {
		t.Fatalf("%v, want line %d", got, lines+3)
	}
	for i, edit := range []string{"\tmovs r2, #1\n", "\tmovs r2, #1\n\tmovs r3, #1\n", ""} {
		version := i + 2
		c.replace(doc, version, edit+head+tail)
		by := strings.Count(edit, "\n")
		if got := await(version); len(got) > 1 || fmt.Sprint(got[0]) != fmt.Sprint([]int{lines + 3 + by}) {
			t.Errorf("edit %d: %v, want line %d at once", i, got, lines+3+by)
		}
	}
}
