package part

import "crimprule/vision/scale"

// Class is what a place of a picture shows.
type Class uint8

// The classes.
const (
	Ground    Class = iota // shadows too
	Reference              // board, slip, rule or disc
	Insulation
	Conductor // bare strands between insulation and sleeve; in a strip view the whole bare conductor
	Sleeve    // bellmouth included
	Brush     // strand ends in front of the sleeve
	Body      // neck and body of the contact
	Strays
	Through // strands seen through the sleeve: open seam, missing piece
	Classes = iota
)

// Regions is what each place round a part shows, on a grid in the part's own frame as seen on the plane of the
// conductor's axis: pixel (i, j) shows x = X0 + i/PPM, y = Y0 - j/PPM. It says where to look, never what a value is.
type Regions struct {
	Frame       Frame
	PPM, X0, Y0 float64
	Prob        [Classes]Plane // share of each class, 0..1, together 1
	onSide      Plane          // of the sleeve's share, what stands for a part on its side
	bgr         [3][]float32   // what the network saw
	likeliest   []Class        // of each pixel; nil until it is asked for
}

// At is how much speaks for a class at a place of frame f, 0..1; 0 outside the grid. f may differ from the regions' own
// frame.
func (r *Regions) At(c Class, f Frame, x, y float64) float64 {
	lx, ly := r.Frame.Local(f.World(x, y, 0))
	return float64(r.Prob[c].At((lx-r.X0)*r.PPM, (r.Y0-ly)*r.PPM))
}

// Class is the likeliest class at a place of frame f with its share; outside the grid the share is 0.
func (r *Regions) Class(f Frame, x, y float64) (class Class, share float64) {
	for c := range r.Prob {
		if p := r.At(Class(c), f, x, y); p > share {
			class, share = Class(c), p
		}
	}
	return class, share
}

// Local gives a world point's place in the frame, its height left out.
func (f Frame) Local(w scale.Vec) (x, y float64) { return f.turned(w.X-f.Origin.X, w.Y-f.Origin.Y) }
