package part

import (
	"errors"
	"math"
	"slices"

	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// Learned finds the part by what two small networks make of the picture: the coarse one tells where a part lies and which
// way, the fine one what each place along it shows. Ends and axis come from the fine one's regions.
type Learned struct{}

var _ Finder = Learned{}

const (
	windowBeforeMM = 12.0 // of the sleeve's middle
	windowSideMM   = 6.0
	rivalShare     = 0.3 // a second blob this large beside the best one, that shows a whole part, is another part
	rivalCertainty = 0.9
	mostTried      = 3
	mostLooks      = 3
	askewDeg       = 7.0
	askewMM        = 2.0
	leastWireMM2   = 8.0
)

// Find implements Finder.
func (Learned) Find(s Scene) (Part, error) {
	height, _ := AxisHeight(s.Declared, s.Reference)
	o, err := look(s, height)
	if err != nil {
		return Part{}, err
	}
	blobs := o.blobs()
	s.showOverview(&o, blobs)
	blobs = wanted(blobs, s.View)
	if len(blobs) == 0 || !blobs[0].crimped() && !blobs[0].stripped() {
		return Part{}, nothingFound(blobs)
	}
	var found Part
	var refusal error
	for k, b := range blobs[:min(len(blobs), mostTried)] {
		if k > 0 && b.score < rivalShare*blobs[0].score {
			break
		}
		p, err := s.tryBlob(b, height)
		switch {
		case err != nil && !errors.As(err, &scale.Refusal{}):
			return Part{}, err
		case err != nil && refusal == nil:
			refusal = err
		case err == nil && found.Regions == nil:
			found = p
		case err == nil && p.Certainty > rivalCertainty && s.plausible(p) && !same(p, found):
			return Part{}, scale.Refusal{Reason: "more than one part, or a part and something like one, lies in the picture, and it cannot be told which is meant: " +
				"take one picture a part, with nothing beside it but the scale reference"}
		}
	}
	if found.Regions == nil {
		return Part{}, refusal
	}
	found.Margin = 1
	if len(blobs) > 1 {
		found.Margin = 1 - min(1, blobs[1].score/blobs[0].score)
	}
	return found, nil
}

// wanted puts the blobs that can be what is asked for first, likeliest first: crimps for the views of a crimp, stripped
// wires for the strip view. Where there is none, any part will do, so that the contradiction can be named.
func wanted(blobs []blob, view record.View) []blob {
	either := func(b blob) bool { return b.crimped() || b.stripped() }
	fits := either
	switch view {
	case record.Strip:
		fits = blob.stripped
	case record.Seam, record.Side:
		fits = blob.crimped
	}
	for _, keep := range []func(blob) bool{fits, either} {
		if some := slices.DeleteFunc(slices.Clone(blobs), func(b blob) bool { return !keep(b) }); len(some) > 0 {
			return some
		}
	}
	return blobs
}

// plausible tells whether a part's wire is about as thick as what is declared.
func (s Scene) plausible(p Part) bool {
	d := s.Declared.InsulationDiameter
	return d == 0 || math.Abs(p.WireMM/d-1) < 0.3
}

// tryBlob looks closely at a blob, or says why it is not worth it.
func (s Scene) tryBlob(b blob, height float64) (Part, error) {
	switch {
	case b.cut:
		return Part{}, scale.Refusal{Reason: "the part is cut off by the picture's edge: go a little farther away or move it into the middle of the picture"}
	case b.area[Insulation] < leastWireMM2:
		return Part{}, scale.Refusal{Reason: "a contact without its wire was found: lay it so that at least 5 mm of the wire's insulation are in " +
			"the picture, and nothing covers them"}
	case b.stripped() && b.area[Body] > leastPartMM2:
		return Part{}, scale.Refusal{Reason: notCrimped}
	}
	return s.closely(b, height)
}

// nothingFound says why there is no part: the best of what was seen of one tells.
func nothingFound(blobs []blob) scale.Refusal {
	for _, b := range blobs {
		if b.area[Insulation] > leastWireMM2 {
			return scale.Refusal{Reason: "a wire was found, but no crimp and no bare strands at its end: take away what covers them, a hand or a tool, " +
				"and move the wire's end into the middle of the picture"}
		}
	}
	return scale.Refusal{Reason: "no crimped contact and no stripped wire was found: lay the part beside the scale reference, " +
		"with the wire's insulation in the picture, on a plain ground; check too that the declared scale is right"}
}

// closely looks at a blob with the fine network; again where a look shows that the window lay askew.
func (s Scene) closely(b blob, height float64) (Part, error) {
	f := Frame{Camera: s.Reference.Camera, Origin: scale.Vec{X: b.middle.X, Y: b.middle.Y, Z: height}, Angle: b.angle}
	var p Part
	askew := true
	for range mostLooks {
		r, err := s.regions(f)
		if err != nil {
			return Part{}, err
		}
		var why string
		if p, why = r.part(b.stripped() && !r.showsSleeve()); why != "" {
			s.showRegions(Part{Frame: f, Regions: r})
			return Part{}, scale.Refusal{Reason: why}
		}
		turn := math.Remainder(p.Frame.Angle-f.Angle, 2*math.Pi)
		mid := p.Frame.World((p.RearX+p.FrontX)/2, 0, 0)
		off := math.Hypot(mid.X-f.Origin.X, mid.Y-f.Origin.Y)
		askew = math.Abs(turn) > askewDeg*math.Pi/180 || off > askewMM
		if !askew {
			break
		}
		f.Angle, f.Origin.X, f.Origin.Y = p.Frame.Angle, mid.X, mid.Y
	}
	s.settleHeight(&p)
	s.showRegions(p)
	switch {
	case askew:
		return Part{}, scale.Refusal{Reason: unclear}
	case p.View != record.Strip && p.Regions.covered(p):
		return Part{}, scale.Refusal{Reason: inPieces}
	case p.Certainty < doubtful:
		d, err := p.Regions.disagreement()
		if err == nil && d > mostDisagree {
			err = scale.Refusal{Reason: unclear}
		}
		return p, err
	}
	return p, nil
}

// settleHeight notes how sure the axis' height is. Where the insulation's diameter is not declared, the height follows from
// the width that its region shows, and the frame is moved there along the line of sight.
func (s Scene) settleHeight(p *Part) {
	d := s.Declared
	if _, p.UHeightMM = AxisHeight(d, s.Reference); d.InsulationDiameter > 0 || p.WireMM == 0 {
		return
	}
	f := &p.Frame
	camera, seenAt := f.Camera.Position().Z, f.Origin.Z
	for range 3 { // the higher, the nearer, the larger it looks
		d.InsulationDiameter = p.WireMM * (camera - f.Origin.Z) / (camera - seenAt)
		z, u := AxisHeight(d, s.Reference)
		at := f.Pixel(0, 0, 0)
		f.Origin = f.Camera.OnPlane(at.X, at.Y, z)
		p.UHeightMM = math.Hypot(u, uWireSeen/2)
	}
	nearer := (camera - f.Origin.Z) / (camera - seenAt)
	p.WireMM, p.RearX, p.FrontX = p.WireMM*nearer, p.RearX*nearer, p.FrontX*nearer
}

// Below the certainty of doubtful the window is looked at once more, in a mirror. Clear pictures have 0.95 and more.
const (
	doubtful     = 0.93
	mostDisagree = 0.08 // of the part's area, between the window and its mirror image: clear pictures show up to 0.03
)

// regions runs the fine network over a window round the frame's origin.
func (s Scene) regions(f Frame) (*Regions, error) {
	const half = 0.5 / finePPM
	strip := NewStrip(s.Image, f, -windowBeforeMM+half, -windowBeforeMM+half+(fineW-0.5)/finePPM, -windowSideMM+half, windowSideMM-half, 0, finePPM)
	var bgr [3][]float32
	for c := range bgr {
		bgr[c] = strip.Chan[c].Pix
	}
	r := &Regions{Frame: f, PPM: finePPM, X0: strip.X0, Y0: strip.Y0, bgr: bgr}
	var err error
	r.Prob, r.onSide, err = fineNet.run(bgr, strip.Chan[0].W, strip.Chan[0].H, 1)
	return r, err
}

// disagreement is the share of the part's area that the network names otherwise when it sees the window in a mirror laid
// along the axis: a network that is sure of what it sees does not mind.
func (r *Regions) disagreement() (float64, error) {
	w, h := r.Prob[0].W, r.Prob[0].H
	var turned [3][]float32
	for c := range turned {
		turned[c] = make([]float32, w*h)
		for j := range h {
			copy(turned[c][j*w:(j+1)*w], r.bgr[c][(h-1-j)*w:(h-j)*w])
		}
	}
	mirror := Regions{}
	var err error
	if mirror.Prob, _, err = fineNet.run(turned, w, h, 1); err != nil {
		return 0, err
	}
	part, other := 0, 0
	for i := range w * h {
		a, b := r.classAt(i), mirror.classAt((h-1-i/w)*w+i%w)
		if a > Reference || b > Reference {
			part++
			if a != b {
				other++
			}
		}
	}
	return float64(other) / float64(max(part, 1)), nil
}
