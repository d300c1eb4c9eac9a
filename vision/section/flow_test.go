package section

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// The cut costs as little as the best of all ways to part a small grid, each of them tried.
func TestCutIsTheCheapestOfAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 4).Draw(t, "w"), rapid.IntRange(1, 3).Draw(t, "h")
		f := newFlow(w, h)
		type link struct {
			a, b int
			c    int32
		}
		var links []link
		term := make([]int32, w*h)
		for i := range term {
			term[i] = int32(rapid.IntRange(-9, 9).Draw(t, "term"))
			for _, d := range []int{1, 3} {
				if d == 1 && i%w == w-1 || d == 3 && i/w == h-1 {
					continue
				}
				c := int32(rapid.IntRange(0, 6).Draw(t, "link"))
				f.link(i, d, c)
				links = append(links, link{i, f.neighbour(i, d), c})
			}
		}
		copy(f.term, term)
		cost := func(source func(i int) bool) int32 {
			sum := int32(0)
			for i, v := range term {
				if source(i) {
					sum += max(0, -v)
				} else {
					sum += max(0, v)
				}
			}
			for _, l := range links {
				if source(l.a) != source(l.b) {
					sum += l.c
				}
			}
			return sum
		}
		best := int32(1 << 30)
		for set := range uint(1) << (w * h) {
			best = min(best, cost(func(i int) bool { return set>>i&1 == 1 }))
		}
		side := f.cut()
		assert.Equal(t, best, cost(func(i int) bool { return side[i] }))
	})
}
