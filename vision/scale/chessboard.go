package scale

import (
	"fmt"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"crimprule/vision/record"
)

const (
	minCorners   = 12   // 4 x 3
	minSpacingPX = 8.   // corners closer than this cannot be located well
	maxTiltDeg   = 40.  // beyond this, heights and foreshortening decide everything
	quietSquares = 0.35 // the white rim that surely belongs to the board, in squares beyond the outer squares
)

// reducedSides are the long sides to which the picture is reduced for the search, in the order of trying. The first
// fits a phone photo of a card; the others are for very small squares and for blurred pictures of large ones.
var reducedSides = []float64{1100, 2400, 550}

// Chessboard finds the largest printed chessboard in an upright 8-bit grey picture and tells from it where the camera
// stood. The board may have any number of inner corners from 4 x 3 up, lie at any turn, and be partly hidden.
//
// squareMM is the side of a square in mm as the user declares it; lengths hang on it, so an error of the print goes
// into them unseen and is no part of RelU. focalPX is the focal length in pixels from the picture's metadata, 0 where
// unknown. The error is a Refusal when the picture cannot serve; then it says what to do.
func Chessboard(grey gocv.Mat, squareMM, focalPX float64) (Reference, error) {
	if grey.Empty() || grey.Type() != gocv.MatTypeCV8UC1 {
		return Reference{}, fmt.Errorf("chessboard: want an 8-bit grey picture, have type %v of %d x %d px",
			grey.Type(), grey.Cols(), grey.Rows())
	}
	if !(squareMM > 0) || math.IsInf(squareMM, 1) {
		return Reference{}, fmt.Errorf("chessboard: the side of a square is %v mm; it must be above 0", squareMM)
	}
	boards, err := findBoards(grey)
	if err != nil {
		return Reference{}, err
	}
	board := boards[0].oriented()
	if s := board.medianSpacing(); s < minSpacingPX {
		return Reference{}, Refusal{fmt.Sprintf("the chessboard's squares are only %.0f px wide: go nearer, "+
			"or use a board with larger squares", s)}
	}
	fit, note, err := fitCamera(func(focalPX float64) (*poseFit, error) {
		return fitBoard(board, squareMM, focalPX, [2]int{grey.Cols(), grey.Rows()})
	}, focalPX)
	if err != nil {
		return Reference{}, err
	}
	ref := boardReference(fit, board, squareMM)
	if note != "" {
		ref.Notes = append(ref.Notes, note)
	}
	if len(boards) > 1 {
		ref.Notes = append(ref.Notes, fmt.Sprintf("%d chessboards were found; the largest, with %d corners, is used",
			len(boards), len(ref.Points)))
	}
	if t := ref.Camera.TiltDeg(); t > maxTiltDeg {
		return Reference{}, Refusal{fmt.Sprintf("the camera is tilted by %.0f degrees to the chessboard: hold it "+
			"square above the card, at most %.0f degrees off", t, maxTiltDeg)}
	}
	return ref, nil
}

// findBoards gives the boards of the picture, largest first, corners to a fraction of a pixel.
func findBoards(grey gocv.Mat) ([]grid, error) {
	if !grey.IsContinuous() {
		whole := grey.Clone()
		defer func() { _ = whole.Close() }()
		grey = whole
	}
	pic, err := newPlane8(grey)
	if err != nil {
		return nil, fmt.Errorf("chessboard: %w", err)
	}
	long := float64(max(grey.Cols(), grey.Rows()))
	most, tried := 0, map[float64]bool{}
	for _, side := range reducedSides {
		side = math.Min(side, long)
		if tried[side] {
			continue
		}
		tried[side] = true
		saddles, shrink, err := findSaddles(grey, side)
		if err != nil {
			return nil, fmt.Errorf("chessboard: %w", err)
		}
		most = max(most, len(saddles))
		var boards []grid
		for _, g := range newGrower(saddles).grids() {
			if g = g.enlarged(shrink).refined(pic).smooth().sharpened(pic); len(g) >= minCorners && g.spans() {
				boards = append(boards, g)
			}
		}
		boards = joined(boards)
		if len(boards) > 0 {
			slices.SortStableFunc(boards, func(a, b grid) int { return len(b) - len(a) })
			return boards, nil
		}
	}
	if most < minCorners {
		return nil, noneFound(grey, "chessboard", fmt.Sprintf("no chessboard was found: only %d places look like a corner of four squares. "+
			"Lay the printed chessboard flat beside the part, wholly in the picture, and take it sharp and evenly lit", most))
	}
	return nil, noneFound(grey, "chessboard", "no chessboard was found: nothing in the picture forms a lattice of at least 4 x 3 inner corners. "+
		"Lay the printed chessboard flat beside the part, uncovered and wholly in the picture, and take it sharp and evenly lit")
}

// enlarged turns places of the reduced picture into places of the full one (centres of pixels at whole numbers).
func (g grid) enlarged(shrink float64) grid {
	out := make(grid, len(g))
	for c, p := range g {
		out[c] = pt{(p.x+0.5)/shrink - 0.5, (p.y+0.5)/shrink - 0.5}
	}
	return out
}

func (g grid) bounds() (low, high cell) {
	low, high = cell{math.MaxInt, math.MaxInt}, cell{math.MinInt, math.MinInt}
	for c := range g {
		low = cell{min(low.i, c.i), min(low.j, c.j)}
		high = cell{max(high.i, c.i), max(high.j, c.j)}
	}
	return low, high
}

// spans tells whether the lattice is at least 4 x 3 corners large.
func (g grid) spans() bool {
	low, high := g.bounds()
	a, b := high.i-low.i+1, high.j-low.j+1
	return min(a, b) >= 3 && max(a, b) >= 4
}

func (g grid) medianSpacing() float64 {
	var all []float64
	for _, s := range g.spacings() {
		all = append(all, s)
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// cells lists the corners in a fixed order.
func (g grid) cells() []cell {
	out := make([]cell, 0, len(g))
	for c := range g {
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b cell) int {
		if a.j != b.j {
			return a.j - b.j
		}
		return a.i - b.i
	})
	return out
}

// oriented renumbers the lattice so that i runs to the right in the picture as nearly as can be, and j is
// counter-clockwise from i as seen in the picture (up where i is right): right-handed with z towards the camera.
func (g grid) oriented() grid {
	var u, v pt
	for c, p := range g {
		if q, ok := g[cell{c.i + 1, c.j}]; ok {
			u = u.add(q.sub(p))
		}
		if q, ok := g[cell{c.i, c.j + 1}]; ok {
			v = v.add(q.sub(p))
		}
	}
	right := func(p pt) float64 { return p.x / p.norm() }
	swap := math.Abs(right(v)) > math.Abs(right(u))
	if swap {
		u, v = v, u
	}
	si, sj := 1, 1
	if u.x < 0 {
		si = -1
	}
	if u.mul(float64(si)).cross(v) > 0 { // y runs down in the picture
		sj = -1
	}
	out := make(grid, len(g))
	for c, p := range g {
		if swap {
			c = cell{c.j, c.i}
		}
		out[cell{c.i * si, c.j * sj}] = p
	}
	low, _ := out.bounds()
	moved := make(grid, len(out))
	for c, p := range out {
		moved[cell{c.i - low.i, c.j - low.j}] = p
	}
	return moved
}

func (p pt) point() record.Point { return record.Point{X: p.x, Y: p.y} }
