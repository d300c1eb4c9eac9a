package scale

import (
	"math"

	"gocv.io/x/gocv"

	"crimprule/vision/subpixel"
)

// Tones are the brightness (of 255) of the reference's own light and dark, which are known to be light and dark: of a
// chessboard the 85th and the 15th percentile about its corners, of a rule its steel and its graduations. grey is the picture
// in which the reference was found. ok is false for a reference whose tones nobody knows.
func (r Reference) Tones(grey gocv.Mat) (light, dark float64, ok bool) {
	if r.light > 0 || r.dark > 0 {
		return r.light, r.dark, true
	}
	if r.Kind != "chessboard" || len(r.Points) < 2 {
		return 0, 0, false
	}
	var v []float64
	d := int(0.35 * math.Hypot(r.Points[1].X-r.Points[0].X, r.Points[1].Y-r.Points[0].Y)) // well into the squares
	around := [][2]int{{-d, -d}, {d, -d}, {-d, d}, {d, d}, {0, d}, {0, -d}, {d, 0}, {-d, 0}}
	for _, p := range r.Points {
		for _, a := range around {
			x, y := int(p.X)+a[0], int(p.Y)+a[1]
			if x >= 0 && y >= 0 && x < grey.Cols() && y < grey.Rows() {
				v = append(v, float64(grey.GetUCharAt(y, x)))
			}
		}
	}
	return subpixel.Percentile(v, 85), subpixel.Percentile(v, 15), true
}
