package scale

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
)

// shrunk gives a picture with its long side brought to at most `side` pixels by averaging areas, and by how much it was
// shrunk. A picture that is at least twice as large is first shrunk by a whole number, which is several times as fast as by
// another; what is left over at the right and below, less than a pixel of the result, is cut off. The caller closes the Mat.
func shrunk(mat gocv.Mat, side float64) (small gocv.Mat, shrink float64, err error) {
	long := max(mat.Cols(), mat.Rows())
	shrink = math.Min(1, side/float64(long))
	small = gocv.NewMat()
	n := min(int(float64(long)/side), mat.Cols(), mat.Rows())
	if n < 2 {
		return small, shrink, shrinkTo(mat, &small, shrink)
	}
	size := image.Pt(mat.Cols()/n, mat.Rows()/n)
	whole := mat.Region(image.Rectangle{Max: size.Mul(n)})
	defer func() { _ = whole.Close() }()
	if err := cvx.Resize(whole, &small, size, gocv.InterpolationArea); err != nil {
		return small, shrink, err
	}
	rest := math.Min(1, side/float64(max(size.X, size.Y)))
	return small, rest / float64(n), shrinkTo(small, &small, rest)
}

func shrinkTo(mat gocv.Mat, small *gocv.Mat, shrink float64) error {
	if shrink == 1 {
		if mat.Ptr() != small.Ptr() {
			mat.CopyTo(small)
		}
		return nil
	}
	size := image.Pt(max(1, int(float64(mat.Cols())*shrink+0.5)), max(1, int(float64(mat.Rows())*shrink+0.5)))
	return cvx.Resize(mat, small, size, gocv.InterpolationArea)
}
