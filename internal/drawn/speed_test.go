package drawn

import "testing"

// BenchmarkPhoto draws a photo of the size that a region finder learns from.
func BenchmarkPhoto(b *testing.B) {
	seed := int64(0)
	for b.Loop() {
		seed++
		Varied(seed%9, Views[seed%3]).Wide(900).Render()
	}
}
