package server

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// Which roots say something about a document is known without looking at all of them: it is
// what looking at all of them says, whatever they say next.
func TestRoots(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 8))
	var p publisher
	p.init()
	key := func() docKey { return docKey(fmt.Sprint("file:///box/", rnd.IntN(12), ".s")) }
	for step := range 20_000 {
		root := key()
		if rnd.IntN(4) == 0 {
			p.seeLocked(root, nil)
		} else {
			set := &pageSet{pages: map[docKey]page{root: {}}}
			for range rnd.IntN(4) {
				set.pages[key()] = page{}
			}
			p.seeLocked(root, set)
		}
		part := key()
		included, says := false, 0
		for other, set := range p.visible {
			if _, ok := set.pages[part]; !ok {
				continue
			}
			if says++; !p.roots[part][other] {
				t.Fatalf("step %d: %s is not known to say something about %s", step, other, part)
			}
			back := false
			if own := p.visible[part]; own != nil {
				_, back = own.pages[other]
			}
			included = included || other != part && !back
		}
		if says != len(p.roots[part]) {
			t.Fatalf("step %d: %d roots of %s, not %d", step, len(p.roots[part]), part, says)
		}
		if got := p.includedLocked(part); got != included {
			t.Fatalf("step %d: %s is included: %v", step, part, got)
		}
	}
}
