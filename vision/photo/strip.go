package photo

import (
	"fmt"
	"math"

	"crimprule/vision/part"
	"crimprule/vision/record"
)

// Strip measures a stripped wire before crimping and fills the record: measured values, reasons for absent ones, and
// marks.
func Strip(subject Subject, rec *record.Record) {
	b := newBench(subject, rec)
	defer b.show("measured strip")
	w, why := b.findWire()
	if why != "" {
		rec.Refuse(why)
		return
	}
	cut, okCut := b.cutFace(w)
	if okCut {
		b.cutAngle(w, cut)
	} else {
		rec.Miss(record.StripLength, noCut)
		rec.Miss(record.InsulationCutAngle, noCut)
	}
	if c, ok := b.bareSides(cut); ok {
		b.splay(c)
		b.strandEnds(w, cut, okCut, c)
	}
	for _, key := range record.Keys(record.Strip) {
		rec.Miss(key, "the strands cannot be told from the ground: use a plain ground whose colour differs from the strands', and soft light")
	}
}

const (
	noWire = "the wire's insulation cannot be told from the ground: use a plain ground whose colour differs from the insulation's, and " +
		"have at least %.0f mm of it in the picture"
	crimped = "a contact is on this wire, so it is no stripped wire before crimping: measure it with --view seam, or take a picture of a stripped wire"
	cutOff  = "the strands reach the picture's edge: have the whole stripped end and some millimetres of ground around it in the picture"
	noCut   = "the insulation's cut end cannot be seen: use light that shows it and a ground whose colour differs from the insulation's"

	insulationLeastMM = 2.0
	insulationMostMM  = 6.5
	besideCutMM       = 0.8 // the insulation next to its cut end may be rounded or pulled
	axisSDdeg         = 0.3 // a piece of wire is straight to within this
	contactShare      = 0.25
	aroundFrontMM     = 3.0
)

// wire is the insulated wire as seen: the frame lies on its axis.
type wire struct {
	radius float64 // of the insulation, mm
	uAxis  float64 // standard uncertainty of the axis' direction, rad
	from   float64 // the insulation is seen from here on, mm (negative)
}

// findWire turns the frame so that x runs along the insulation's axis, by the borders along both of its sides. why says
// what the person can do where that fails.
func (b *bench) findWire() (w wire, why string) {
	if b.contactSeen() {
		return w, crimped
	}
	for _, y := range []float64{-1, 1} {
		if !b.inPicture(b.part.FrontX+0.6, y*b.part.WireMM/3) {
			return w, cutOff
		}
	}
	w.radius = b.part.WireMM / 2
	for w.from = -insulationMostMM; !b.inPicture(w.from, -w.radius) || !b.inPicture(w.from, w.radius); w.from += 0.25 {
		if w.from > -insulationLeastMM {
			return w, fmt.Sprintf(noWire, insulationLeastMM)
		}
	}
	for range 2 {
		b.strip = b.around()
		s, ok := b.wireSides(w)
		if !ok {
			return w, fmt.Sprintf(noWire, insulationLeastMM)
		}
		w.radius, w.uAxis = s.radius, math.Hypot(s.u, axisSDdeg*math.Pi/180)
		b.frame = b.frame.Moved(0, s.centre, s.turn)
	}
	b.strip = b.around()
	return w, ""
}

// contactSeen tells whether more of a contact than of bare strands is seen in front of the insulation.
func (b *bench) contactSeen() bool {
	g := b.part.Regions
	if g == nil {
		return false
	}
	contact, bare := 0.0, 0.0
	for x := 0.0; x < b.part.FrontX+6; x += 0.2 {
		for y := -b.part.WireMM / 2; y < b.part.WireMM/2; y += 0.2 {
			contact += g.At(part.Sleeve, b.frame, x, y) + g.At(part.Body, b.frame, x, y)
			bare += g.At(part.Conductor, b.frame, x, y)
		}
	}
	return contact > contactShare*(contact+bare)
}

// lnProfile is the logarithm of profiles, in which an edge in the shade counts like one in the light.
func lnProfile(p [][]float64) [][]float64 {
	for _, c := range p {
		for i, v := range c {
			c[i] = math.Log(math.Max(0, v) + part.LogFloor)
		}
	}
	return p
}
