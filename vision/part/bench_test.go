package part

import (
	"testing"

	"github.com/stretchr/testify/require"

	"crimprule/internal/cvx"
)

// The two networks alone, on one thread: the coarse one over the largest overview there is, the fine one over its window.
func BenchmarkNetworks(b *testing.B) {
	before := cvx.NumThreads()
	cvx.SetNumThreads(1)
	b.Cleanup(func() { cvx.SetNumThreads(before) })
	for _, n := range []struct {
		name       string
		net        *network
		w, h, stem int
	}{{"coarse", coarseNet, 736, 544, coarseStem}, {"fine", fineNet, fineW, fineH, 1}} {
		b.Run(n.name, func(b *testing.B) {
			var bgr [3][]float32
			for c := range bgr {
				bgr[c] = make([]float32, n.w*n.h)
				for i := range bgr[c] {
					bgr[c][i] = float32((i*7 + c*50) % 256)
				}
			}
			for b.Loop() {
				_, _, err := n.net.run(bgr, n.w, n.h, n.stem)
				require.NoError(b, err)
			}
		})
	}
}
