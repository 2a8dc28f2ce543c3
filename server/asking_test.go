package server

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A client that says very often that its settings have changed is asked as often as it answers,
// and what it says last counts, however late the answers before come.
func TestManyConfigurations(t *testing.T) {
	c := dial(t, Options{analyze: toyAnalyze})
	caps := allCaps()
	caps["workspace"] = obj{"configuration": true}
	c.initialize(caps, nil)
	asked := func() (ids []string) {
		for _, m := range c.heard("workspace/configuration") {
			ids = append(ids, string(m.ID))
		}
		return ids
	}
	wait := func(n int) {
		for began := time.Now(); len(asked()) < n; time.Sleep(time.Millisecond) {
			if time.Since(began) > patience {
				t.Fatalf("the client was asked %d times, not %d", len(asked()), n)
			}
		}
	}
	answer := func(id, cpu string) {
		c.raw(frame(fmt.Sprintf(`{"jsonrpc":"2.0","id":%s,"result":[{"cpu":%q}]}`, id, cpu)))
	}
	for range 500 {
		c.notify("workspace/didChangeConfiguration", obj{"settings": nil})
	}
	c.reached()
	wait(maxAsking)
	ids := asked()
	if len(ids) > maxAsking {
		t.Fatalf("%d requests are without an answer", len(ids))
	}
	answer(ids[2], "cortex-m0")
	wait(maxAsking + 1) // for what has changed meanwhile
	answer(asked()[maxAsking], "cortex-m4")
	uri := fileURI(filepath.Join(t.TempDir(), "a.s"))
	c.open(uri, 1, "show")
	for began := time.Now(); ; time.Sleep(time.Millisecond) {
		if all := c.publishes(uri); len(all) > 0 && strings.Contains(fmt.Sprint(all[len(all)-1]), "cpu=cortex-m4") {
			break
		}
		if time.Since(began) > patience {
			t.Fatal("the last answer does not count")
		}
	}
	answer(ids[0], "cortex-m3")
	answer(ids[1], "cortex-m1")
	c.reached()
	c.replace(uri, 2, "show show")
	p := c.findings(uri, 2, 2)
	if !strings.Contains(p.Diagnostics[0].Message, "cpu=cortex-m4") {
		t.Errorf("an answer that came late counts: %s", p.Diagnostics[0].Message)
	}
	if n := len(asked()); n > 2*maxAsking {
		t.Errorf("the client was asked %d times", n)
	}
}

// What settings quote is shown up to a length, and remembered up to a number.
func TestSaidOnce(t *testing.T) {
	s := &Server{warned: map[string]bool{}}
	long := strings.Repeat("é", 1<<20)
	text, fresh := s.once("x" + long)
	if _, again := s.once("x" + long); !fresh || again || len(text) > maxSaidText+3 || !strings.HasSuffix(text, "é…") {
		t.Errorf("%d bytes, %v, then %v", len(text), fresh, again)
	}
	for i := range 2 * maxSaid {
		s.once(fmt.Sprint(i, long))
	}
	if len(s.warned) != maxSaid {
		t.Errorf("%d are remembered", len(s.warned))
	}
}
