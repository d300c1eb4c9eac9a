package vision

import (
	"context"
	"image"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
	drawn "crimprule/internal/drawn/section"
	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// jpeg12MP writes a test photo, enlarged to 12 megapixels, as a JPEG of quality 92 and gives its path and bytes.
func jpeg12MP(b *testing.B, photo string) (path string, data []byte) {
	b.Helper()
	m := gocv.IMRead(photo, gocv.IMReadColor)
	require.False(b, m.Empty())
	defer m.Close()
	gocv.Resize(m, &m, image.Pt(4000, 3000), 0, 0, gocv.InterpolationCubic)
	buf, err := gocv.IMEncodeWithParams(gocv.JPEGFileExt, m, []int{gocv.IMWriteJpegQuality, 92})
	require.NoError(b, err)
	defer buf.Close()
	path = filepath.Join(b.TempDir(), "photo.jpg")
	data = append(data, buf.GetBytes()...)
	require.NoError(b, os.WriteFile(path, data, 0o600))
	return path, data
}

// photos12MP are a photo with each scale reference.
var photos12MP = []struct {
	path     string
	scale    ScaleOption
	declared record.Declared
}{
	{"../testdata/photo/photo-1022.jpg", ScaleOption{Kind: "chessboard", LengthMM: 5}, record.Declared{StrandDiameter: 0.25, InsulationDiameter: 5.23}},
	{"scale/testdata/rule_1008.jpg", ScaleOption{Kind: "rule", LengthMM: 1}, record.Declared{StrandDiameter: 0.3, InsulationDiameter: 5.6}},
	{"scale/testdata/disc_1025.jpg", ScaleOption{Kind: "disc", LengthMM: 20}, record.Declared{StrandDiameter: 0.3, InsulationDiameter: 5.6}},
}

// onOneThread lets OpenCV use one thread, as where pictures are worked on side by side; call the benchmarks with -cpu 1.
func onOneThread(b *testing.B) {
	before := cvx.NumThreads()
	cvx.SetNumThreads(1)
	b.Cleanup(func() { cvx.SetNumThreads(before) })
}

// processorTime is what this process has used of all cores, user and system: other load falsifies it less than the wall time.
func processorTime(b *testing.B) time.Duration {
	b.Helper()
	var used syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &used))
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

func decode(b *testing.B, data []byte) {
	b.Helper()
	m, err := gocv.IMDecode(data, gocv.IMReadColor)
	require.NoError(b, err)
	require.NoError(b, m.Close())
}

// What OpenCV needs to decode the JPEGs of BenchmarkMeasure12MP: the measure of that one's speed.
func BenchmarkDecode12MP(b *testing.B) {
	onOneThread(b)
	for _, p := range photos12MP {
		b.Run(p.scale.Kind, func(b *testing.B) {
			_, data := jpeg12MP(b, p.path)
			for b.Loop() {
				decode(b, data)
			}
		})
	}
}

// A whole measurement, reading and decoding included, with each scale reference, of a part whose insulation's diameter is
// declared or is not. Besides the wall time it tells the processor time, and how often the picture could be decoded by
// OpenCV in that.
func BenchmarkMeasure12MP(b *testing.B) {
	onOneThread(b)
	for _, p := range photos12MP {
		for _, known := range []bool{true, false} {
			declared, name := p.declared, p.scale.Kind+"/declared"
			if !known {
				declared.InsulationDiameter, name = 0, p.scale.Kind+"/undeclared"
			}
			b.Run(name, func(b *testing.B) {
				path, data := jpeg12MP(b, p.path)
				req := Request{View: "seam", Scales: []ScaleOption{p.scale}, Declared: declared}
				var measuring, decoding time.Duration
				for b.Loop() {
					t0 := processorTime(b)
					pic, err := picture.Open(path)
					require.NoError(b, err)
					rec, err := Measure(context.Background(), pic, req)
					require.NoError(b, err)
					require.Empty(b, rec.Retake)
					pic.Close()
					t1 := processorTime(b)
					measuring += t1 - t0
					b.StopTimer()
					decode(b, data)
					decoding += processorTime(b) - t1
					b.StartTimer()
				}
				b.ReportMetric(measuring.Seconds()*1000/float64(b.N), "cpu-ms/op")
				b.ReportMetric(measuring.Seconds()/decoding.Seconds(), "decodes/op")
			})
		}
	}
}

// jpeg5MP writes a drawn micrograph of 5 megapixels as a JPEG and gives how to measure it, and its bytes.
func jpeg5MP(b *testing.B) (k knownSection, data []byte) {
	b.Helper()
	s := drawn.Demo()[0].Scene
	const larger = 2592. / 1600
	s.Width, s.Height, s.MMPerPX = 2592, 1944, s.MMPerPX/larger
	s.Scale = drawn.Scale{}
	k = writeScene(b, "section", s)
	data, err := os.ReadFile(k.path)
	require.NoError(b, err)
	return k, data
}

// What OpenCV needs to decode the JPEG of BenchmarkSection5MP: the measure of that one's speed.
func BenchmarkDecode5MP(b *testing.B) {
	_, data := jpeg5MP(b)
	b.ReportAllocs()
	for b.Loop() {
		m, err := gocv.IMDecode(data, gocv.IMReadColor)
		require.NoError(b, err)
		require.NoError(b, m.Close())
	}
}

// A whole measurement of a section, reading and decoding included. The bytes are those of Go's heap; OpenCV's picture of
// 15 MB lies outside.
func BenchmarkSection5MP(b *testing.B) {
	k, _ := jpeg5MP(b)
	b.ReportAllocs()
	for b.Loop() {
		rec := k.measure(b)
		require.Empty(b, rec.Retake)
	}
}
