package layout

import (
	"math/rand"
	"testing"
)

// TestBoundaries compares what the largest boundary leaves of a distance with what all
// of them leave, one after the other.
func TestBoundaries(t *testing.T) {
	rng := rand.New(rand.NewSource(1))
	for range 300 {
		pts := make([]point, 1+rng.Intn(30))
		for k := range pts {
			pts[k].kind = PointFar
			if rng.Intn(3) == 0 {
				pts[k].kind, pts[k].align = PointAlign, 1<<rng.Intn(6)
			}
		}
		bounds := boundariesOf(pts)
		for k := range pts {
			for last := k - 1; last < len(pts); last++ {
				for _, by := range []int64{0, 2, 6, 14, 30, 62, 100} {
					want := by
					for j := k + 1; j <= last; j++ {
						if pts[j].kind == PointAlign {
							want &^= pts[j].align - 1
						}
					}
					if got := by &^ (bounds.largest(int32(k), int32(last)) - 1); got != want {
						t.Fatalf("%d bytes from point %d to %d: %d, want %d", by, k, last, got, want)
					}
				}
			}
		}
	}
}
