package scale

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// homography is the plane's projective map from mm to px, by least squares with its last element held at 1 (the origin
// lies in the board's middle, in front of the camera, so that element is never 0).
func homography(obs []observation) ([3][3]float64, error) {
	var h [3][3]float64
	a := mat.NewDense(2*len(obs), 8, nil)
	b := mat.NewVecDense(2*len(obs), nil)
	for i, o := range obs {
		x, y, u, v := o.w.X, o.w.Y, o.p.x, o.p.y
		a.SetRow(2*i, []float64{x, y, 1, 0, 0, 0, -u * x, -u * y})
		a.SetRow(2*i+1, []float64{0, 0, 0, x, y, 1, -v * x, -v * y})
		b.SetVec(2*i, u)
		b.SetVec(2*i+1, v)
	}
	var s mat.VecDense
	if err := s.SolveVec(a, b); err != nil {
		var ill mat.Condition
		if !errors.As(err, &ill) {
			return h, err
		}
	}
	for k := range 8 {
		h[k/3][k%3] = s.AtVec(k)
	}
	h[2][2] = 1
	return h, nil
}

// cameraFrom takes a homography apart for a camera of the given focal length without distortion.
func cameraFrom(h [3][3]float64, focal float64, size [2]int) (Camera, bool) {
	c := Camera{F: focal, CX: float64(size[0]-1) / 2, CY: float64(size[1]-1) / 2}
	column := func(k int) Vec {
		return Vec{(h[0][k] - c.CX*h[2][k]) / focal, (h[1][k] - c.CY*h[2][k]) / focal, h[2][k]}
	}
	a, b, t := column(0), column(1), column(2)
	scale := 2 / (a.norm() + b.norm())
	if math.IsNaN(scale) || math.IsInf(scale, 0) || t.Z <= 0 {
		return c, false
	}
	// The nearest pair of orthogonal directions: half-way between the two, turned by 45 degrees to either side.
	a, b = a.unit(), b.unit()
	sum, diff := a.add(b).unit(), a.sub(b).unit()
	a, b = sum.add(diff).unit(), sum.sub(diff).unit()
	n := a.cross(b)
	c.R = [3][3]float64{{a.X, b.X, n.X}, {a.Y, b.Y, n.Y}, {a.Z, b.Z, n.Z}}
	c.T = t.mul(scale)
	return c, true
}
