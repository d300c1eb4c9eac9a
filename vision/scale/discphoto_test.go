package scale

import (
	"encoding/json"
	"image"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// discTruth reads a ray-traced photo of a disc of 20 mm, its camera, and the height of the disc's face in the camera's world.
func discTruth(t testing.TB) (mat, flat gocv.Mat, cam Camera, faceZ float64) {
	path := "testdata/disc_1025.json"
	tr, flat := readTruth(t, path)
	mat = gocv.IMRead(filepath.Join(filepath.Dir(path), tr.Image), gocv.IMReadColor)
	require.False(t, mat.Empty())
	t.Cleanup(func() { mat.Close() })
	var planes struct {
		Aid struct {
			Planes struct {
				Z float64 `json:"reference_z"`
			} `json:"planes"`
		} `json:"aid"`
	}
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &planes))
	return mat, flat, tr.camera(), planes.Aid.Planes.Z
}

// A pale disc on a pale ground under the sun: a hard shadow on one side, a bright side wall on another. The
// lengths over the whole picture and the direction of view are within their stated uncertainty, with the focal length
// known and not.
func TestDiscPhoto(t *testing.T) {
	mat, flat, cam, z := discTruth(t)
	for _, focal := range []float64{0, cam.F * 1.02} {
		ref, err := Disc(mat, flat, 20, focal)
		require.NoError(t, err)
		for _, p := range []pt{{560, 830}, {1000, 750}, {1300, 600}, {1800, 1200}} {
			for _, h := range []float64{-1, 0, 1} {
				off := math.Log(ref.MMPerPX(p.x, p.y, h) / cam.mmPerPX(p.x, p.y, z+h))
				u := 2 * ref.RelUAt(p.x, p.y, h)
				t.Logf("focal %.0f, at %.0f: off %+.4f, u %.4f", focal, p, off, u)
				assert.LessOrEqual(t, math.Abs(off), u)
				assert.Less(t, u, 0.03)
			}
		}
		a, b := ref.Camera.TiltDeg(), cam.TiltDeg()
		assert.InDelta(t, b, a, 2*ref.UTiltDeg)
		assert.Less(t, 2*ref.UTiltDeg, 4.) // the side wall tells the two tilts apart
		blur, ok := ref.BlurPX(flat)
		assert.True(t, ok)
		assert.InDelta(t, 1.2, blur, 0.5)
	}
}

// The rim lies where the drawing has it, to the width of the broken edge there.
func TestDiscRim(t *testing.T) {
	mat, _, _, _ := discTruth(t)
	tr, _ := readTruth(t, "testdata/disc_1025.json")
	found, err := roundThings(mat, 50)
	require.NoError(t, err)
	pic, err := newColours(mat)
	require.NoError(t, err)
	rims := pic.discs(found)
	require.Len(t, rims, 1)
	mean := 0.
	for _, p := range tr.Aid.Corners {
		d, _ := rims[0].e.distance(pt{p[0], p[1]})
		assert.Less(t, math.Abs(d), 3., "%v", p)
		mean += d / float64(len(tr.Aid.Corners))
	}
	assert.Less(t, math.Abs(mean), 1.5)
}

// OpenCV's fitEllipse judges the ellipse fit. It takes and gives whole numbers, so the ellipse is large.
func TestEllipseAgainstOpenCV(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 9))
	for range 20 {
		e := ellipse{pt{30000, 20000}, 8000 + 2000*random.Float64(), 6000 + 1500*random.Float64(), 3 * random.Float64()}
		from, to := 2*math.Pi*random.Float64(), 3.5+2.7*random.Float64() // an arc
		var whole []image.Point
		var points []pt
		for range 200 {
			p, n := e.at(from + to*random.Float64())
			p = p.add(n.mul(20 * random.NormFloat64()))
			q := image.Pt(int(math.Round(p.x)), int(math.Round(p.y)))
			whole, points = append(whole, q), append(points, pt{float64(q.X), float64(q.Y)})
		}
		ours, ok := fitConic(points, nil)
		require.True(t, ok)
		vector := gocv.NewPointVectorFromPoints(whole)
		theirs := gocv.FitEllipse(vector)
		vector.Close()
		assert.InDelta(t, theirs.Center.X, ours.c.x, 25)
		assert.InDelta(t, theirs.Center.Y, ours.c.y, 25)
		assert.InDelta(t, float64(max(theirs.Width, theirs.Height))/2, ours.a, 25)
		assert.InDelta(t, float64(min(theirs.Width, theirs.Height))/2, ours.b, 25)
		assert.InDelta(t, e.a, ours.a, 40)
		assert.InDelta(t, e.b, ours.b, 40)
	}
}

func BenchmarkDisc(b *testing.B) {
	mat, flat, _, _ := discTruth(b)
	for b.Loop() {
		if _, err := Disc(mat, flat, 20, 0); err != nil {
			b.Fatal(err)
		}
	}
}
