package scan

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// silent watches a scan without a word.
type silent struct{ pictures int }

func (*silent) Begun(int, int, *Listing)       {}
func (*silent) Settled(int)                    {}
func (s *silent) Picture(p site.Picture) error { s.pictures++; return nil }
func (*silent) Changed(_, _ []string)          {}
func (*silent) Waiting(error)                  {}
func (*silent) Written(Result) error           { return nil }

func benchOptions(dir string, workers int) Options {
	return Options{Sources: []string{filepath.Join(dir, "photos")}, View: record.Seam, Scales: []string{"chessboard=5mm"}, Workers: workers, Timeout: time.Minute,
		Worker: func() *exec.Cmd {
			cmd := exec.Command(os.Args[0])
			cmd.Env = append(os.Environ(), playing+"=1")
			return cmd
		},
		Check: func(Request) error { return nil }, Out: filepath.Join(dir, "evidence"), History: filepath.Join(dir, "history.db"), Program: "bench", Now: time.Now}
}

// BenchmarkOwnTime is what a scan costs besides measuring: finding, copying and hashing (4 MB a picture), queue, history
// and evidence. The worker processes answer at once. Measuring takes some 0.7 s a picture; the aim is below a tenth of it.
func BenchmarkOwnTime(b *testing.B) {
	dir := b.TempDir()
	const pictures = 200
	require.NoError(b, os.Mkdir(filepath.Join(dir, "photos"), 0o755))
	data := make([]byte, 4<<20)
	for i := range pictures {
		copy(data, fmt.Sprint("picture ", i))
		require.NoError(b, os.WriteFile(filepath.Join(dir, "photos", fmt.Sprintf("%04d.jpg", i)), data, 0o644))
	}
	for b.Loop() {
		require.NoError(b, os.RemoveAll(filepath.Join(dir, "evidence")))
		old, err := filepath.Glob(filepath.Join(dir, "history.db*"))
		require.NoError(b, err)
		for _, file := range old {
			require.NoError(b, os.Remove(file))
		}
		var seen silent
		require.NoError(b, Run(b.Context(), benchOptions(dir, 2), &seen))
		require.Equal(b, pictures, seen.pictures)
	}
	b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N)/pictures, "ms/picture")
}
