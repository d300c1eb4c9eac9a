package scale

import "crimprule/vision/record"

// A printed sheet. Common practice, no source.
const (
	flatnessMM = 0.05  // it is not flatter than this under the part and under the board
	paperMM    = 0.1   // thick: half of the range from nothing (the part lies on the same sheet) to a stiff card of 0.2 mm
	uPaperMM   = 0.058 // standard deviation of an even distribution over that range
)

// fitBoard fits the camera to the board's corners with one assumption on the focal length.
func fitBoard(board grid, squareMM, focalPX float64, size [2]int) (*poseFit, error) {
	f := &poseFit{name: "chessboard", focalPX: focalPX, sigma: 0.1, size: size, flatMM: flatnessMM}
	low, high := board.bounds()
	mid := Vec{float64(low.i+high.i) / 2, float64(low.j+high.j) / 2, 0}
	var corners []observation
	for _, c := range board.cells() {
		w := Vec{(float64(c.i) - mid.X) * squareMM, (float64(c.j) - mid.Y) * squareMM, 0}
		corners = append(corners, observation{w, board[c]})
		f.seen = append(f.seen, observation{w, board[c]})
	}
	h, err := homography(corners)
	if err != nil {
		return nil, err
	}
	var starts []Camera
	for _, focal := range focalStarts(board.medianSpacing()/squareMM, focalPX, size) {
		if cam, ok := cameraFrom(h, focal, size); ok {
			starts = append(starts, cam)
		}
	}
	if err := f.solve(starts); err != nil {
		return nil, err
	}
	if len(f.seen) < minCorners {
		return nil, Refusal{"the chessboard's corners do not fit one flat board: lay it flat, uncovered, and take it sharp"}
	}
	f.estimateSigma()
	return f, f.covariance()
}

// focalStarts are the focal lengths from which a fit is started: from metadata, of cameras at usual distances, and of a
// phone's usual angle of view.
func focalStarts(pxPerMM, focalPX float64, size [2]int) []float64 {
	starts := []float64{pxPerMM * 110, pxPerMM * 190, pxPerMM * 300, 0.75 * float64(max(size[0], size[1]))}
	if focalPX > 0 {
		starts = append([]float64{focalPX}, starts...)
	}
	return starts
}

// boardReference is the reference of a fit to a chessboard's corners.
func boardReference(f *poseFit, board grid, squareMM float64) Reference {
	ref := f.reference()
	ref.GroundZMM, ref.UGroundMM = -paperMM, uPaperMM
	low, high := board.bounds()
	wide := (float64(high.i-low.i)/2 + 1 + quietSquares) * squareMM
	tall := (float64(high.j-low.j)/2 + 1 + quietSquares) * squareMM
	for _, w := range []Vec{{-wide, -tall, 0}, {wide, -tall, 0}, {wide, tall, 0}, {-wide, tall, 0}} {
		x, y := f.cam.Project(w)
		ref.Outline = append(ref.Outline, record.Point{X: x, Y: y})
	}
	return ref
}
