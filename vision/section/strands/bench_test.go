package strands

import (
	"math"
	"testing"
)

// BenchmarkFind looks for 90 strands in a cavity of 0.2 megapixels, grains and noise aside.
func BenchmarkFind(b *testing.B) {
	s, _ := packed(9, 10, 24, 0.5, math.Sqrt(3)/2)
	in := s.draw(0.02)
	for b.Loop() {
		found, err := Find(in)
		if err != nil || len(found.Strands) != 90 {
			b.Fatal(len(found.Strands), err)
		}
	}
}
