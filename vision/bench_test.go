package vision

import (
	"context"
	"image"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	drawn "crimprule/internal/drawn/section"
	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// jpeg12MP writes a test photo, enlarged to 12 megapixels, as a JPEG of quality 92 and gives its path and bytes.
func jpeg12MP(b *testing.B) (path string, data []byte) {
	b.Helper()
	m := gocv.IMRead("../testdata/photo/photo-1022.jpg", gocv.IMReadColor)
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

// What OpenCV needs to decode the JPEG of BenchmarkMeasure12MP: the measure of that one's speed.
func BenchmarkDecode12MP(b *testing.B) {
	_, data := jpeg12MP(b)
	for b.Loop() {
		m, err := gocv.IMDecode(data, gocv.IMReadColor)
		require.NoError(b, err)
		require.NoError(b, m.Close())
	}
}

// A whole measurement, reading and decoding included, of a part whose insulation's diameter is declared or is not.
func BenchmarkMeasure12MP(b *testing.B) {
	path, _ := jpeg12MP(b)
	for name, declared := range map[string]record.Declared{
		"declared": {StrandDiameter: 0.3, InsulationDiameter: 5.23}, "undeclared": {StrandDiameter: 0.3},
	} {
		b.Run(name, func(b *testing.B) {
			req := Request{View: "seam", Scales: []ScaleOption{{Kind: "chessboard", LengthMM: 5}}, Declared: declared}
			for b.Loop() {
				pic, err := picture.Open(path)
				require.NoError(b, err)
				rec, err := Measure(context.Background(), pic, req)
				require.NoError(b, err)
				require.Empty(b, rec.Retake)
				pic.Close()
			}
		})
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
