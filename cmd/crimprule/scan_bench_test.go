package main

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkScan is a scan of 24 demo photos of 3 megapixels, with evidence, by one and by two worker processes. On two
// cores the aim is that two are at least 1.7 times as fast.
func BenchmarkScan(b *testing.B) {
	sample, err := os.ReadFile("../../samples/canopy-north-string-03-crimp-01.jpg")
	require.NoError(b, err)
	dir := b.TempDir()
	const pictures = 24
	require.NoError(b, os.Mkdir(filepath.Join(dir, "photos"), 0o755))
	for i := range pictures {
		name := filepath.Join(dir, "photos", fmt.Sprintf("crimp-%02d.jpg", i))
		require.NoError(b, os.WriteFile(name, append(sample, fmt.Sprint(i)...), 0o644))
	}
	for _, workers := range []int{1, 2} {
		b.Run(fmt.Sprintf("workers=%d", workers), func(b *testing.B) {
			n := 0
			for b.Loop() {
				n++
				name := fmt.Sprintf("%d-%d", workers, n)
				cmd := program(dir, "scan", "photos", "--scale", "chessboard=5mm", "--workers", fmt.Sprint(workers), "--out", "evidence-"+name, "--history", name+".db")
				said, err := cmd.CombinedOutput()
				require.NoError(b, err, string(said))
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/pictures, "s/picture")
		})
	}
}
