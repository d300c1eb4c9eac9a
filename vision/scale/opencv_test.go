package scale

import (
	"image"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// OpenCV's sample pictures of a 9 x 6 board of 25 mm squares, from the Debian package opencv-doc.
const samples = "/usr/share/doc/opencv-doc/examples/data"

func sample(t *testing.T, name string) gocv.Mat {
	t.Helper()
	m := gocv.IMRead(filepath.Join(samples, name), gocv.IMReadGrayScale)
	require.False(t, m.Empty(), name)
	t.Cleanup(func() { _ = m.Close() })
	return m
}

func samplePictures(t *testing.T) []string {
	t.Helper()
	files, _ := filepath.Glob(filepath.Join(samples, "left[01][0-9].jpg"))
	if len(files) == 0 {
		t.Skipf("OpenCV's sample pictures are not in %s; install them with: apt-get install opencv-doc", samples)
	}
	require.Len(t, files, 13)
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = filepath.Base(f)
	}
	return names
}

// All 13 boards are found whole, and the corners agree with OpenCV's two own ways to refine them as closely as these agree with
// a calibrated camera: 0.2 px (cornerSubPix, half window 5) and 0.23 px (sectors) rms on these pictures, ours below 0.2 px.
func TestCornersAgreeWithOpenCV(t *testing.T) {
	for n, name := range samplePictures(t) {
		m := sample(t, name)
		boards, err := findBoards(m)
		require.NoError(t, err, name)
		board := nineBySix(t, name, boards[0])

		refined := gocv.NewMatWithSize(54, 1, gocv.MatTypeCV32FC2)
		for k, c := range board.cells() {
			refined.SetFloatAt(k, 0, float32(board[c].x))
			refined.SetFloatAt(k, 1, float32(board[c].y))
		}
		gocv.CornerSubPix(m, &refined, image.Pt(5, 5), image.Pt(-1, -1),
			gocv.NewTermCriteria(gocv.Count+gocv.EPS, 40, 0.001))
		assert.Less(t, apart(board, refined), 0.2, "%s: rms distance from cornerSubPix, px", name)
		t.Logf("%s: %.3f px rms from cornerSubPix", name, apart(board, refined))
		_ = refined.Close()

		if n%3 != 0 { // the sector method takes a second a picture
			continue
		}
		sectors := gocv.NewMat()
		if gocv.FindChessboardCornersSB(m, image.Pt(9, 6), &sectors, gocv.CalibCBAccuracy) {
			t.Logf("%s: %.3f px rms from findChessboardCornersSB", name, apart(board, sectors))
			assert.Less(t, apart(board, sectors), 0.45, "%s: rms distance from findChessboardCornersSB, px", name)
		}
		_ = sectors.Close()
	}
}

// nineBySix turns a board that lies on its side.
func nineBySix(t *testing.T, name string, b grid) grid {
	t.Helper()
	b = b.oriented()
	low, high := b.bounds()
	if high.i-low.i < high.j-low.j {
		turned := grid{}
		for c, p := range b {
			turned[cell{c.j, high.i - c.i}] = p
		}
		b = turned
	}
	_, high = b.bounds()
	require.Len(t, b, 54, name)
	require.Equal(t, cell{8, 5}, high, name)
	return b
}

// apart is the root mean square distance of each of OpenCV's corners from ours that lies nearest.
func apart(b grid, m gocv.Mat) float64 {
	sum := 0.
	for k := range m.Rows() {
		v := m.GetVecfAt(k, 0)
		best := math.Inf(1)
		for _, p := range b {
			best = math.Min(best, p.dist(pt{float64(v[0]), float64(v[1])}))
		}
		sum += best * best
	}
	return math.Sqrt(sum / float64(m.Rows()))
}

// OpenCV calibrates its camera from our corners. Its own published result (samples/data/left_intrinsics.yml) is fx = fy = 535.92,
// cx 342.28, cy 235.57 at an RMS of 0.393 px, with corners from a window larger than some squares; OpenCV 4.6 with
// cornerSubPix and a half window of 5 px gives fx 532.83, fy 532.95, cx 342.49, cy 233.86 at 0.195 px.
func TestCalibrationOverOurCorners(t *testing.T) {
	world, seen := gocv.NewPoints3fVector(), gocv.NewPoints2fVector()
	defer world.Close()
	defer seen.Close()
	for _, name := range samplePictures(t) {
		boards, err := findBoards(sample(t, name))
		require.NoError(t, err)
		b := nineBySix(t, name, boards[0])
		var w []gocv.Point3f
		var p []gocv.Point2f
		for _, c := range b.cells() {
			w = append(w, gocv.Point3f{X: float32(c.i) * 25, Y: float32(c.j) * 25})
			p = append(p, gocv.Point2f{X: float32(b[c].x), Y: float32(b[c].y)})
		}
		wv, pv := gocv.NewPoint3fVectorFromPoints(w), gocv.NewPoint2fVectorFromPoints(p)
		world.Append(wv)
		seen.Append(pv)
		wv.Close()
		pv.Close()
	}
	camera, distortion, r, v := gocv.NewMat(), gocv.NewMat(), gocv.NewMat(), gocv.NewMat()
	defer func() {
		for _, m := range []gocv.Mat{camera, distortion, r, v} {
			_ = m.Close()
		}
	}()
	rms := gocv.CalibrateCamera(world, seen, image.Pt(640, 480), &camera, &distortion, &r, &v, 0)
	t.Logf("RMS %.4f px, fx %.2f, fy %.2f, cx %.2f, cy %.2f", rms, camera.GetDoubleAt(0, 0), camera.GetDoubleAt(1, 1),
		camera.GetDoubleAt(0, 2), camera.GetDoubleAt(1, 2))
	assert.Less(t, rms, 0.2)
	assert.InDelta(t, 533, camera.GetDoubleAt(0, 0), 3)
	assert.InDelta(t, 533, camera.GetDoubleAt(1, 1), 3)
	assert.InDelta(t, 342.4, camera.GetDoubleAt(0, 2), 1.5)
	assert.InDelta(t, 234.5, camera.GetDoubleAt(1, 2), 2)
}
