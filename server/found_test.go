package server

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"
)

// TestFound holds that what was found is not looked for again within a moment, unless settings may
// be others, and that only so much is held.
func TestFound(t *testing.T) {
	var f found[int]
	looks := 0
	get := func(name string, changes int64) int {
		return f.get(name, changes, func() int { looks++; return looks })
	}
	if get("a", 1) != 1 || get("b", 1) != 2 || get("a", 1) != 1 || looks != 2 {
		t.Errorf("looked for %d times, want once for each name", looks)
	}
	if get("a", 2) != 3 {
		t.Error("what was found holds though settings may be others")
	}
	at := f.held["a"]
	at.when = at.when.Add(-settingsHold)
	f.held["a"] = at
	if get("a", 2) != 4 {
		t.Errorf("what was found holds for longer than %v", settingsHold)
	}
	for i := range 3 * maxFound {
		get(fmt.Sprint(i), 2)
	}
	if n := len(f.held); n > maxFound {
		t.Errorf("%d names are held", n)
	}
}

// TestPolite holds that a polite context ends as the one that it is made of, and is one to those
// that are made of it.
func TestPolite(t *testing.T) {
	why := errors.New("why")
	inner, cancel := context.WithCancelCause(context.Background())
	outer := polite{inner}
	child, done := context.WithTimeout(outer, time.Hour)
	defer done()
	if outer.Err() != nil || child.Err() != nil {
		t.Fatal("it has ended before")
	}
	cancel(why)
	<-child.Done()
	if outer.Err() == nil || !errors.Is(context.Cause(child), why) || !errors.Is(context.Cause(outer), why) {
		t.Errorf("it ends with %v, %v", context.Cause(outer), context.Cause(child))
	}
}
