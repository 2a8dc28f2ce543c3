package server

import "testing"

// TestOthersWait holds that what waits for a document itself is not taken for others that wait.
func TestOthersWait(t *testing.T) {
	s := newSlots()
	for _, x := range []struct {
		waiting []docKey
		want    bool
	}{{nil, false}, {[]docKey{"a"}, false}, {[]docKey{"a", "b"}, true}, {[]docKey{"b"}, true}} {
		s.waiting = nil
		for _, key := range x.waiting {
			s.waiting = append(s.waiting, &waiter{key: key})
		}
		if got := s.othersWait("a"); got != x.want {
			t.Errorf("%v wait: others wait for a: %t", x.waiting, got)
		}
	}
}
