package scale

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// edge is one edge of a drawn rule: graduations pitchMM apart and tall(k) long, 0 for none.
type edge struct {
	pitchMM float64
	tall    func(k int) float64
}

// Lengths of graduations on usual rules, common practice, no source.
var (
	edgeOfMM = edge{1, func(k int) float64 { return pick(k%10 == 0, 7., pick(k%5 == 0, 5.2, 3.6)) }}
	edgeHalf = edge{0.5, func(k int) float64 {
		return pick(k%20 == 0, 7., pick(k%10 == 0, 5.5, pick(k%2 == 0, 4., 2.6)))
	}}
	edge16ths = edge{25.4 / 16, func(k int) float64 {
		return pick(k%16 == 0, 9., pick(k%8 == 0, 7., pick(k%4 == 0, 5.5, pick(k%2 == 0, 4.2, 3.))))
	}}
	edge32nds = edge{25.4 / 32, func(k int) float64 {
		return pick(k%32 == 0, 9., pick(k%16 == 0, 7.5, pick(k%8 == 0, 6.2, pick(k%4 == 0, 5., pick(k%2 == 0, 3.8, 2.8)))))
	}}
	edgeEven = edge{1, func(int) float64 { return 4 }}
)

// drawnRule is a steel rule, -6 <= y <= 12 mm, seen by a known camera: its lower edge has the graduations below, its upper edge
// those above. The lines are x = k·pitch.
type drawnRule struct {
	camera       Camera
	size         image.Point
	below, above edge
	from, to     float64                 // ends, mm
	cover        func(x, y float64) bool // where something grey lies on the rule
	shade        func(x, y float64) float64
	grain        float64    // brushing along the rule, grey levels
	soft         [2]float64 // blur in px, x and y of the picture
}

const (
	drawnFoot  = -6. // mm
	drawnTop   = 12.
	drawnLine  = 0.2 // mm
	drawnSteel = 190.
	drawnInk   = 45.
)

func (d drawnRule) brightness(x, y float64) float64 {
	if d.cover != nil && d.cover(x, y) {
		return 120
	}
	if x < d.from || x > d.to || y < drawnFoot || y > drawnTop {
		return 90
	}
	v := drawnSteel
	if d.grain > 0 {
		r := rand.New(rand.NewPCG(uint64(int64(math.Floor(y*25))), uint64(int64(math.Floor(x/3)))))
		v += d.grain * r.NormFloat64()
	}
	if d.below.inked(x, y-drawnFoot) || d.above.inked(x, drawnTop-y) {
		v = drawnInk
	}
	if d.shade != nil {
		v *= d.shade(x, y)
	}
	return v
}

func (e edge) inked(x, y float64) bool {
	if e.pitchMM == 0 {
		return false
	}
	k := math.Round(x / e.pitchMM)
	return math.Abs(x-k*e.pitchMM) < drawnLine/2 && y <= e.tall(int(k))
}

// draw samples each pixel 3 x 3 times and adds noise of two grey levels.
func (d drawnRule) draw(t testing.TB) gocv.Mat {
	random := rand.New(rand.NewPCG(3, 4))
	m := gocv.NewMatWithSize(d.size.Y, d.size.X, gocv.MatTypeCV8UC1)
	t.Cleanup(func() { _ = m.Close() })
	data, err := m.DataPtrUint8()
	require.NoError(t, err)
	const n = 3
	from := d.camera.Position()
	for py := range d.size.Y {
		for px := range d.size.X {
			v := 0.
			for k := range n * n {
				x, y := float64(px)+(float64(k%n)+0.5)/n-0.5, float64(py)+(float64(k/n)+0.5)/n-0.5
				s := d.camera.toWorld(Vec{(x - d.camera.CX) / d.camera.F, (y - d.camera.CY) / d.camera.F, 1})
				w := from.sub(s.mul(from.Z / s.Z))
				if d.camera.K1 != 0 { // slower
					w = d.camera.OnPlane(x, y, 0)
				}
				v += d.brightness(w.X, w.Y) / (n * n)
			}
			data[py*d.size.X+px] = uint8(math.Round(v))
		}
	}
	if d.soft[0] > 0 || d.soft[1] > 0 {
		gocv.GaussianBlur(m, &m, image.Pt(0, 0), math.Max(d.soft[0], 0.1), math.Max(d.soft[1], 0.1), gocv.BorderReplicate)
	}
	for i, v := range data {
		data[i] = uint8(math.Min(255, math.Max(0, math.Round(float64(v)+2*random.NormFloat64()))))
	}
	return m
}
