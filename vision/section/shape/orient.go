package shape

import (
	"errors"
	"math"
	"slices"

	"crimprule/vision/section/raster"
)

// Orientation tells how a part lies in the picture; lengths in px, y down, as in the picture.
type Orientation struct {
	// TurnDeg is how far the part lies turned counterclockwise as seen, in (-180, 180]: with t = TurnDeg its x axis (the
	// floor, left to right) points along (cos t, -sin t) in the picture.
	TurnDeg float64
	Notch   raster.Point    // the bottom of the notch between the lobes; the middle of the narrowest place of an open channel
	Floor   [2]raster.Point // ends of the floor's straight part, left and right of the part
	// Margin is how far the reading beats the next one: 0 a toss-up, 1 no other.
	Margin float64
}

// leastNotch is the depth below which a bay of the outline is no candidate for the notch, in shares of the square root
// of the area; a mask's scatter of a pixel stays far below it.
const leastNotch = 0.015

// doubt is the score of a bay that any ragged outline may have: a notch no better than that is no sure sign.
const doubt = 0.02

// apartRad is by how much two readings must differ to be different: a ragged notch makes several bays that agree.
const apartRad = 0.2

// workMM is the size that an outline is scaled to, so that the windows of this package, which are made for crimps of a
// few mm, suit a picture of any scale: the square root of its area.
const workMM = 2.5

// Orient finds which way the floor lies, given only the outer outline in px (y down), at any turn. Every bay of the
// outline may be the notch; each is tried with the floor opposite to it. The notch is deep, near the middle, and the
// side opposite to it is straight.
func Orient(outer []raster.Point) (Orientation, error) {
	if err := checked(outer, "outer outline"); err != nil {
		return Orientation{}, err
	}
	area := math.Abs(raster.Area(outer))
	if area == 0 {
		return Orientation{}, errors.New("the outer outline encloses nothing; follow the edge again")
	}
	scale := workMM / math.Sqrt(area)
	up := make([]raster.Point, len(outer))
	for i, p := range outer {
		up[i] = raster.Point{X: p.X * scale, Y: -p.Y * scale}
	}
	c, err := newCurve(up, "outer outline")
	if err != nil {
		return Orientation{}, err
	}
	var best *outline
	var first, second float64
	for _, b := range bays(c) {
		if b.depth < leastNotch*workMM {
			continue
		}
		o, score := tried(c, b)
		other := best != nil && o != nil && math.Abs(math.Remainder(o.frame.AngleRad-best.frame.AngleRad, 2*math.Pi)) > apartRad
		switch {
		case score > first && other:
			best, first, second = o, score, first
		case score > first:
			best, first = o, score
		case score > second && other:
			second = score
		}
	}
	if best == nil {
		return Orientation{}, errors.New("no bay of the outline is a notch with a straight floor opposite: the part's way up cannot be told; turn the picture by hand")
	}
	return best.oriented(scale, math.Max(0, 1-(second+doubt)/first)), nil
}

// tried levels the outline as if bay b were the notch, and says how well that fits; 0 where it does not.
func tried(c curve, b bay) (*outline, float64) {
	from, to := c.at(b.from), c.at(b.to)
	turn := math.Atan2(from.Y-to.Y, from.X-to.X) // counterclockwise, a roof runs to the left
	t := curve{p: make([]raster.Point, len(c.p)), step: c.step}
	for i, p := range c.p {
		t.p[i] = rotate(p, -turn)
	}
	o, err := level(t, Edge{})
	if err != nil || o.notch.depth == 0 || o.halfWidth <= 0 {
		return nil, 0
	}
	o.frame = Frame{Origin: rotate(o.frame.Origin, turn), AngleRad: o.frame.AngleRad + turn}
	mouth := between(o.at(o.notch.from), o.at(o.notch.to), 0.5)
	aside := math.Min(1, math.Abs(mouth.X)/o.halfWidth)
	depth := math.Min(o.notch.depth/o.height, 0.3) // an open channel is no better a notch than a deep one
	straight := 1 / (1 + o.floor.spread/(0.004*o.height))
	return o, depth * (1 - aside*aside) * straight
}

// oriented takes the finding back to the picture.
func (o *outline) oriented(scale, margin float64) Orientation {
	px := func(p raster.Point) raster.Point {
		q := o.frame.From(p)
		return raster.Point{X: q.X / scale, Y: -q.Y / scale}
	}
	turn := math.Remainder(o.frame.AngleRad*180/math.Pi, 360)
	if turn <= -180 {
		turn += 360
	}
	return Orientation{
		TurnDeg: turn,
		Notch:   px(o.notchPoint()),
		Floor:   [2]raster.Point{px(o.at(o.sides[0].floorEnd)), px(o.at(o.sides[1].floorEnd))},
		Margin:  margin,
	}
}

// notchPoint is the notch's bottom, or the middle of the narrowest place of a channel that opens into the cavity.
func (o *outline) notchPoint() raster.Point {
	c := &cavity{}
	if open, err := c.channel(o); err == nil && open {
		return c.contact
	}
	y := make([]float64, 0, o.notch.to-o.notch.from+1)
	for i := o.notch.from; i <= o.notch.to; i++ {
		y = append(y, o.mean(i, 2).Y)
	}
	return o.at(o.notch.from + slices.Index(y, slices.Min(y)))
}
