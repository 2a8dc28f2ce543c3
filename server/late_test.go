package server

import (
	"context"
	"encoding/json"
	"testing"
	"time"

	"narrowgauge/analysis"
)

// TestLateAnswers holds that a request does not wait for a large program: it is answered
// with an error, or a hover with nothing, and the same question is answered when the
// analysis has ended. What takes long without much work, as on a slow machine, is waited
// for.
func TestLateAnswers(t *testing.T) {
	for _, tt := range []struct {
		name string
		work int // thousands of units
		late bool
	}{{"large", muchWork, true}, {"slow", muchWork / 3, false}} {
		release, began := make(chan struct{}), make(chan struct{}, 9)
		c := dial(t, Options{AnswerWithin: 30 * time.Millisecond, analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
			for range tt.work {
				if ctx.Err() != nil {
					return nil, ctx.Err()
				}
			}
			began <- struct{}{}
			<-release
			return toyAnalyze(ctx, in)
		}})
		c.initialize(allCaps(), nil)
		c.open(doc, 1, "bad")
		<-began
		hover, symbols := c.start("textDocument/hover", at(doc, 0, 1)), c.start("textDocument/documentSymbol", obj{"textDocument": obj{"uri": doc}})
		if !tt.late {
			time.Sleep(200 * time.Millisecond) // in which an answer would come that does not wait
		} else {
			if m := c.reply(hover); m.Error != nil || string(m.Result) != "null" {
				t.Errorf("%s: hover: %s %v", tt.name, m.Result, m.Error)
			}
			if m := c.reply(symbols); m.Error == nil || m.Error.Code != int32(requestFailed) {
				t.Errorf("%s: symbols: %s %v, want error %d", tt.name, m.Result, m.Error, requestFailed)
			}
		}
		close(release)
		c.findings(doc, 1, 1)
		if tt.late {
			hover, symbols = c.start("textDocument/hover", at(doc, 0, 1)), c.start("textDocument/documentSymbol", obj{"textDocument": obj{"uri": doc}})
		}
		if m := c.reply(hover); m.Error != nil || !json.Valid(m.Result) || string(m.Result) == "null" {
			t.Errorf("%s: hover afterwards: %s %v", tt.name, m.Result, m.Error)
		}
		if m := c.reply(symbols); m.Error != nil {
			t.Errorf("%s: symbols afterwards: %v", tt.name, m.Error)
		}
	}
}
