package scale

import (
	"encoding/json"
	"image"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// truth is what a test picture's file says of its board and camera. The world's frame there is another one, so the
// comparison uses what does not depend on it.
type truth struct {
	Image string `json:"image"`
	Scale string `json:"scale_option"`
	Aid   struct {
		Corners   [][2]float64 `json:"reference_points"`
		CornersMM [][3]float64 `json:"reference_points_mm"`
		Camera    struct {
			R        [3][3]float64 `json:"R"`
			T        [3]float64    `json:"t"`
			F        float64       `json:"f_px"`
			CX       float64       `json:"cx"`
			CY       float64       `json:"cy"`
			K1       float64       `json:"k1"`
			Position [3]float64    `json:"position"`
		} `json:"camera"`
	} `json:"aid"`
}

func readTruth(t testing.TB, path string) (truth, gocv.Mat) {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	var tr truth
	require.NoError(t, json.Unmarshal(data, &tr))
	m := gocv.IMRead(filepath.Join(filepath.Dir(path), tr.Image), gocv.IMReadGrayScale)
	require.False(t, m.Empty(), tr.Image)
	t.Cleanup(func() { _ = m.Close() })
	return tr, m
}

func (tr truth) camera() Camera {
	c := tr.Aid.Camera
	cam := Camera{F: c.F, CX: c.CX, CY: c.CY, K1: c.K1, R: c.R}
	p := Vec{c.Position[0], c.Position[1], c.Position[2]}
	for i, v := range []*float64{&cam.T.X, &cam.T.Y, &cam.T.Z} {
		*v = -(c.R[i][0]*p.X + c.R[i][1]*p.Y + c.R[i][2]*p.Z)
	}
	return cam
}

// score collects errors over their stated standard uncertainties.
type score struct{ sum, z2, e2, n, inside float64 }

func (s *score) add(e, u float64) {
	s.sum, s.e2, s.z2, s.n = s.sum+e, s.e2+e*e, s.z2+e*e/(u*u), s.n+1
	if math.Abs(e) <= 2*u {
		s.inside++
	}
}

func (s score) log(t *testing.T, name string) {
	t.Logf("%-22s bias %+.5f, rms %.5f, rms/u %.2f, within 2u %.0f of %.0f", name, s.sum/s.n, math.Sqrt(s.e2/s.n),
		math.Sqrt(s.z2/s.n), s.inside, s.n)
}

// Ray-traced photos with a known camera: near the corners to a tenth of a pixel, distance, direction of view and
// lengths within their stated uncertainty. Set CRIMPRULE_PHOTOS to a folder of such pictures to run over more of them.
func TestPhotosAgainstTheTruth(t *testing.T) {
	dir := os.Getenv("CRIMPRULE_PHOTOS")
	if dir == "" {
		dir = "../../testdata/photo"
	}
	files, _ := filepath.Glob(filepath.Join(dir, "*.json"))
	var distance, view, length score
	for _, path := range files {
		tr, m := readTruth(t, path)
		if tr.Scale != "chessboard=5mm" || len(tr.Aid.CornersMM) == 0 || len(tr.Aid.Corners) < minCorners {
			continue // no board
		}
		ref, err := Chessboard(m, 5, 0)
		require.NoError(t, err, path)
		require.Len(t, ref.Points, len(tr.Aid.Corners), path)
		assert.Less(t, cornerRMS(ref, tr.Aid.Corners), 0.12, path)

		want, z := tr.camera(), tr.Aid.CornersMM[0][2]
		d := math.Log(ref.Camera.Position().Z / (want.Position().Z - z))
		distance.add(d, ref.RelUDistance)
		size := image.Pt(m.Cols(), m.Rows())
		for _, px := range []float64{0.25, 0.5, 0.75} {
			x, y := px*float64(size.X), 0.5*float64(size.Y)
			ax, ay := slant(ref.Camera, x, y, 0)
			bx, by := slant(want, x, y, z)
			u := ref.UViewDeg(ref.Camera.OnPlane(x, y, 0))
			view.add(ax-bx, u)
			view.add(ay-by, u)
			length.add(math.Log(ref.MMPerPX(x, y, 0)/want.mmPerPX(x, y, z)), ref.RelUAt(x, y, 0))
		}
		t.Logf("%s: corners %.3f px, residual %.3f px, distance %+.1f %% (u %.1f %%), tilt %.1f (u %.2f), %s", filepath.Base(path),
			cornerRMS(ref, tr.Aid.Corners), ref.ResidualPX, 100*d, 100*ref.RelUDistance, ref.Camera.TiltDeg(), ref.UTiltDeg, ref.FocalSource)
	}
	require.Positive(t, distance.n, "no picture with a board in %s", dir)
	distance.log(t, "distance, relative")
	view.log(t, "direction of view, deg")
	length.log(t, "scale, relative")
	for _, s := range []score{distance, view, length} {
		assert.Less(t, math.Sqrt(s.z2/s.n), 1.8)
		assert.GreaterOrEqual(t, s.inside/s.n, 0.6) // few pictures here; over many of them it is above 0.9
	}
}

// slant is the direction of view in degrees, along the picture's x and square to it, in the plane's own frame.
func slant(c Camera, px, py, z float64) (along, across float64) {
	at := c.OnPlane(px, py, z)
	e := c.OnPlane(px+20, py, z).sub(at).unit()
	v := c.ViewDirection(at)
	return math.Asin(v.X*e.X+v.Y*e.Y) * 180 / math.Pi, math.Asin(v.Y*e.X-v.X*e.Y) * 180 / math.Pi
}

func cornerRMS(ref Reference, want [][2]float64) float64 {
	sum := 0.
	for _, p := range ref.Points {
		best := math.Inf(1)
		for _, q := range want {
			best = math.Min(best, math.Hypot(p.X-q[0], p.Y-q[1]))
		}
		sum += best * best
	}
	return math.Sqrt(sum / float64(len(ref.Points)))
}

// 12 megapixels, enlarged from a test photo.
func BenchmarkChessboard12MP(b *testing.B) {
	files, _ := filepath.Glob("../../testdata/photo/*.json")
	if len(files) == 0 {
		b.Skip("no test photos")
	}
	_, m := readTruth(b, files[0])
	gocv.Resize(m, &m, image.Pt(4000, 3000), 0, 0, gocv.InterpolationCubic)
	b.ResetTimer()
	for range b.N {
		if _, err := Chessboard(m, 5, 0); err != nil {
			b.Fatal(err)
		}
	}
}
