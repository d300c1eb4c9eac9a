package section

import "testing"

func BenchmarkRandom(b *testing.B) {
	for i := 0; b.Loop(); i++ {
		Random(int64(i%20 + 1))
	}
}

func BenchmarkDraw(b *testing.B) {
	s := Random(16)
	for b.Loop() {
		s.Draw()
	}
}
