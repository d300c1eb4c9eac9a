package part

import (
	"encoding/json"
	"image"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// photo is a ray-traced picture with what its file says: the rims of the sleeve's two ends, as polygons in pixels.
type photo struct {
	Image    string             `json:"image"`
	View     string             `json:"view"`
	Scale    string             `json:"scale_option"`
	Expect   string             `json:"expect_retake"`
	Declared map[string]float64 `json:"declared"`
	Aid      struct {
		Rear  [][2]float64 `json:"rear_edge"`
		Front [][2]float64 `json:"front_edge"`
	} `json:"aid"`

	scene Scene
}

// readPhoto reads a picture with its truth and finds its board; ok is false where it has none. A size other than
// zero enlarges the picture.
func readPhoto(t testing.TB, path string, size image.Point) (p photo, ok bool) {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &p))
	if p.Scale != "chessboard=5mm" {
		return p, false
	}
	m := gocv.IMRead(filepath.Join(filepath.Dir(path), p.Image), gocv.IMReadColor)
	require.False(t, m.Empty(), p.Image)
	t.Cleanup(func() { _ = m.Close() })
	if size != (image.Point{}) {
		gocv.Resize(m, &m, size, 0, 0, gocv.InterpolationCubic)
	}
	grey := gocv.NewMat()
	defer grey.Close()
	gocv.CvtColor(m, &grey, gocv.ColorBGRToGray)
	ref, err := scale.Chessboard(grey, 5, 0)
	require.NoError(t, err, p.Image)
	pix, err := m.DataPtrUint8()
	require.NoError(t, err)
	p.scene = Scene{Mat: m, Image: Image{W: m.Cols(), H: m.Rows(), Pix: pix}, Reference: ref}
	return p, true
}

// declared is what is known of the part: its insulation's diameter, or nothing.
func (p photo) declared(known bool) record.Declared {
	if !known {
		return record.Declared{}
	}
	return record.Declared{InsulationDiameter: p.Declared["insulation_diameter"]}
}

// meanX is where along the part's axis a rim is seen, on the average, 1 mm above the axis.
func meanX(f Frame, rim [][2]float64) float64 {
	sum := 0.0
	for _, q := range rim {
		x, _ := f.FromPixel(record.Point{X: q[0], Y: q[1]}, 1)
		sum += x
	}
	return sum / float64(len(rim))
}

// The sleeve's ends are found to within 0.4 mm of the truth in ray-traced photos, with and without a declared diameter, and
// the view is told; a picture without a part is refused. Set CRIMPRULE_PHOTOS to a folder of such pictures to run over
// more of them.
func TestFindAgainstTheTruth(t *testing.T) {
	dir := os.Getenv("CRIMPRULE_PHOTOS")
	if dir == "" {
		dir = "../../testdata/photo"
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.json"))
	require.NoError(t, err)
	found, refused := 0, 0
	for _, path := range files {
		p, ok := readPhoto(t, path, image.Point{})
		if !ok {
			continue
		}
		for _, known := range []bool{true, false} {
			p.scene.Declared = p.declared(known)
			got, err := Learned{}.Find(p.scene)
			if p.Expect == "no part" {
				assert.ErrorAs(t, err, &scale.Refusal{}, "%s, declared %v", p.Image, known)
				refused++
				continue
			}
			if !assert.NoError(t, err, "%s, declared %v", p.Image, known) {
				continue
			}
			assert.Equal(t, p.View, string(got.View), p.Image)
			if p.View == "strip" {
				continue
			}
			assert.InDelta(t, meanX(got.Frame, p.Aid.Rear), got.RearX, 0.4, "%s, rear, declared %v", p.Image, known)
			assert.InDelta(t, meanX(got.Frame, p.Aid.Front), got.FrontX, 0.4, "%s, front, declared %v", p.Image, known)
			found++
		}
	}
	require.Positive(t, found, "no seam picture with a board in %s", dir)
	require.Positive(t, refused, "no picture to refuse in %s", dir)
}

// 12 megapixels, enlarged from a test photo, on one thread.
func BenchmarkFind12MP(b *testing.B) {
	p, ok := readPhoto(b, "../../testdata/photo/photo-1022.json", image.Pt(4000, 3000))
	require.True(b, ok)
	for name, known := range map[string]bool{"declared": true, "undeclared": false} {
		b.Run(name, func(b *testing.B) {
			p.scene.Declared = p.declared(known)
			for b.Loop() {
				if _, err := (Learned{}).Find(p.scene); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
