package drawn

import (
	"math"
	"math/rand/v2"

	"crimprule/vision/record"
)

// Faults are the ways in which Spoil makes a picture unfit to be measured.
var Faults = []string{"blur", "tilt too large", "no scale reference", "no part", "too dark", "too bright", "two parts", "hand over the part",
	"tool over the part", "cut off at the border", "not crimped", "closed tube without a seam", "inch rule", "motion blur", "hidden scale reference"}

// Spoil gives the scene as a bad photo of it, which must be refused; why is one of Faults. Anything else leaves the
// scene as it is.
func (s Scene) Spoil(why string) Scene {
	d := dice{rand.New(rand.NewPCG(uint64(s.Seed), 13))}
	switch why {
	case "blur":
		s.Sensor.DefocusPX, s.Sensor.MotionPX, s.Sensor.Sharpen = 7, 9, 0
	case "motion blur":
		s.Sensor.MotionPX, s.Sensor.Sharpen = d.between(30, 60), 0
	case "tilt too large":
		s.Camera.TiltDeg = 38
	case "no scale reference":
		s.Board.None, s.Rule, s.Disc = true, nil, nil
	case "no part":
		s.Part.CentreMM = [2]float64{900, 900}
	case "too dark":
		s.Light.Exposure = -5
	case "too bright":
		s.Light.Exposure = d.between(2.2, 3.2)
	case "two parts":
		s.second(d)
	case "hand over the part":
		s.Things = nil
		s.hand(d, skins[d.IntN(len(skins))], s.onPart(d), s.awayFromReference())
	case "tool over the part":
		s.Things = nil
		s.tool(d, s.onPart(d), s.awayFromReference())
		s.lift(2.2 * s.Part.AxisMM)
	case "cut off at the border":
		s.cutOff()
	case "not crimped":
		s.Part.Sleeve.Form, s.Part.Sleeve.Notches, s.Part.Sleeve.BellmouthFlareMM = FormOpen, nil, 0
	case "closed tube without a seam":
		s.Part.Sleeve.Form, s.Part.Sleeve.Notches = FormTube, nil
	case "inch rule":
		s.Rule = d.rule([2]float64{}, 0)
		s.besidePart(d, func(at [2]float64, turn float64) { s.Rule = d.rule(at, turn); s.Rule.Inch = true })
	case "hidden scale reference":
		s.hide(d)
	default:
		return s
	}
	s.ExpectRetake = why
	return s
}

// FaultsOf are the faults that a picture of that view can have.
func FaultsOf(view record.View) (all []string) {
	for _, why := range Faults {
		if view == record.Strip && (why == "not crimped" || why == "closed tube without a seam") {
			continue
		}
		all = append(all, why)
	}
	return all
}

// second lays one more part of the same kind beside the first, as far away as the picture has room.
func (s *Scene) second(d dice) {
	p := s.Part
	sin, cos := math.Sincos(radians(p.AlphaDeg))
	l, g := s.Camera.lens(s.Width, s.Height), p.geometry(s.Seed)
	for try := range 400 {
		aside, along := d.sign()*d.between(9, 30), d.between(-12, 12)
		p.CentreMM = [2]float64{s.Part.CentreMM[0] - sin*aside + cos*along, s.Part.CentreMM[1] + cos*aside + sin*along}
		p.AlphaDeg = s.Part.AlphaDeg + d.between(-6, 6)
		g.CentreMM, g.AlphaDeg = p.CentreMM, p.AlphaDeg
		g.placePart()
		if s.inside(l, g.wireAt(0), 150) && s.inside(l, g.wireAt(p.reachMM()), 40) && (try > 300 || s.partClear(g)) {
			break
		}
	}
	s.Second = &p
}

// onPart is a place on the part between the insulation's end and the front, at the part's height.
func (s *Scene) onPart(d dice) vec {
	g := s.Part.geometry(s.Seed)
	at := g.wireAt(d.between(0, 0.6) * max(4, s.Part.Sleeve.LengthMM+s.Part.Body.NeckMM))
	return vec{at.X, at.Y, 0}
}

// awayFromReference is the direction across the part that leads away from the scale reference.
func (s *Scene) awayFromReference() vec {
	sin, cos := math.Sincos(radians(s.Part.AlphaDeg))
	out := vec{-sin, cos, 0}
	at := s.Board.CentreMM
	if s.Rule != nil {
		at = s.Rule.CentreMM
	}
	if s.Disc != nil {
		at = s.Disc.CentreMM
	}
	if out.X*(at[0]-s.Part.CentreMM[0])+out.Y*(at[1]-s.Part.CentreMM[1]) > 0 {
		return out.mul(-1)
	}
	return out
}

// lift raises all things, so that they lie over the part instead of in it.
func (s *Scene) lift(by float64) {
	for i := range s.Things {
		for j := range s.Things[i].Rods {
			k := &s.Things[i].Rods[j]
			k.From[2], k.To[2] = k.From[2]+by, k.To[2]+by
		}
	}
}

// cutOff aims the camera aside, so that the picture's border runs through the sleeve or the bare strands.
func (s *Scene) cutOff() {
	g := s.Part.geometry(s.Seed)
	middle := g.wireAt(s.Part.reachMM() * 0.12)
	l := s.Camera.lens(s.Width, s.Height)
	px, py := l.project(middle)
	// The nearer border, in pixels from the picture's middle.
	dx, dy := px-l.cx, py-l.cy
	if math.Abs(dx)/l.cx > math.Abs(dy)/l.cy {
		dx, dy = dx-math.Copysign(l.cx, dx), 0
	} else {
		dx, dy = 0, dy-math.Copysign(l.cy, dy)
	}
	ray := l.ray(l.cx+dx, l.cy+dy)
	at := l.at.sub(ray.mul((l.at.Z - s.Part.AxisMM) / ray.Z))
	before := l.ray(l.cx, l.cy)
	old := l.at.sub(before.mul((l.at.Z - s.Part.AxisMM) / before.Z))
	s.Camera.AimMM[0] += at.X - old.X
	s.Camera.AimMM[1] += at.Y - old.Y
}

// besidePart tries places for another reference until one is seen and clear of the part.
func (s *Scene) besidePart(d dice, lay func(at [2]float64, turn float64)) {
	s.Board, s.Disc, s.Things = Board{None: true}, nil, nil
	g := s.Part.geometry(s.Seed)
	w, h := 1000*s.Camera.DistanceMM/s.Camera.FocalPX, 750*s.Camera.DistanceMM/s.Camera.FocalPX
	for range 5000 {
		lay([2]float64{d.between(-w, w), d.between(-h, h)}, s.Part.AlphaDeg+180*float64(d.IntN(2))+10*d.NormFloat64())
		if s.partClear(g) && s.referenceSeen() {
			return
		}
	}
}

// hide lays a broad tool or hand over most of the scale reference.
func (s *Scene) hide(d dice) {
	s.Things = nil
	out := s.awayFromReference().mul(-1)
	at := s.Board.CentreMM
	if s.Disc != nil {
		at = s.Disc.CentreMM
	}
	if s.Rule != nil { // the middle of what is seen of it
		l, n, sum := s.Camera.lens(s.Width, s.Height), 0.0, vec{}
		for _, w := range s.Rule.edge() {
			if s.inside(l, w, 0) {
				sum, n = sum.add(w), n+1
			}
		}
		at = [2]float64{sum.X / max(1, n), sum.Y / max(1, n)}
	}
	aside := vec{-out.Y, out.X, 0}
	skin := skins[d.IntN(len(skins))]
	for k := -3.0; k <= 3; k++ {
		s.hand(d, skin, vec{at[0], at[1], 0}.add(aside.mul(11*k)).sub(out.mul(11)), out)
	}
}
