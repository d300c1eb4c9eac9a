// Package strands tells the strands of a section one by one, and the voids between them.
//
// The plan for the hard part:
//
//  1. Grooves are dark lines that go on, grains' edges do not: ridge strength across each of several directions, averaged
//     along it. Copper's colour counts as well as brightness, since bright tin lacks it too. Flood that (watershed), with a
//     dome over places far from any groove, so that gaps in a groove close at the neck. That gives far too many basins.
//  2. Join basins, best pair first, while that lowers a cost in nats: each border pixel says how much likelier its
//     evidence is on a border than inside a strand, tones say whether two pieces are one strand, strands are of even size
//     (drawn wire) and have few dents.
//  3. Nothing is known beforehand: try every strand size, learn from each partition how borders and insides look in
//     this very picture, keep the size under which all the evidence is likeliest, and learn again from there. Where sizes
//     as likely end in other counts, and where large strands looked for with longer lines do, the count is in doubt.
//  4. Cut what is too large in two where that costs less, unite what only a straight scratch parts. What is nearly as
//     cheap the other way makes the count doubtful.
//  5. Voids: along borders the darkness across them is measured. The part that no place goes without is a gap, the rest
//     groove. Dark places wider than the grooves at the borders' middles, where strands press on each other, are voids.
package strands

import (
	"errors"

	"crimprule/vision/section/raster"
)

// Input is what is looked at. All planes and the mask have the same size.
type Input struct {
	// Tone is the picture about the cavity: one plane (grey) or three (blue, green, red).
	Tone []raster.Plane
	// Cavity marks the pixels inside the sleeve's cavity, right to about a pixel along its border; it may be in several pieces.
	Cavity  raster.Mask
	MMPerPX float64
	// BlurPX is the standard deviation of the picture's blur.
	BlurPX float64
}

// Strand is one strand; lengths in px of Tone.
type Strand struct {
	X, Y, AreaPX, Roundness float64 // centroid, area, 4 pi area / perimeter²
	Neighbours              int
	Doubtful                bool
	Outline                 []raster.Point
}

// Void is one empty place.
type Void struct {
	AreaPX  float64
	Outline []raster.Point
}

// Found is what was found. UCount and UVoidAreaPX are expanded uncertainties (k = 2) of the number of strands and of
// the sum of the void areas.
type Found struct {
	Strands     []Strand
	Voids       []Void
	UCount      float64
	VoidAreaPX  float64
	UVoidAreaPX float64
}

// Find tells the strands and the voids in the cavity.
func Find(in Input) (Found, error) {
	if err := in.check(); err != nil {
		return Found{}, err
	}
	p, f := in.parted()
	switch {
	case f == nil:
		return Found{}, nil
	case p == nil:
		return f.hollow(), nil
	}
	return p.report(), nil
}

// parted tells the cavity apart at the scale that suits it. The field is nil where there is no cavity, the partition
// where there is no metal in it.
func (in Input) parted() (*partition, *field) {
	area := 0
	for _, v := range in.Cavity.Pix {
		if v {
			area++
		}
	}
	f := newField(in, scaleOf(area))
	if f == nil || !f.level() {
		return nil, f
	}
	void := f.openings(0)
	p := segment(f, void, 0)
	if p.g == nil {
		return nil, f
	}
	if p.g.rule.size > largePX {
		p = p.again(void)
	}
	return p, f
}

// again looks for large strands with longer lines. Where the count comes out quite another one, the first stays; by how
// much the two differ is doubt.
func (p *partition) again(void []bool) *partition {
	n := p.g.strands()
	q := segment(p.f, void, p.g.rule.size)
	if q.g == nil {
		return p
	}
	d := abs(q.g.strands() - n)
	if 4*d > n {
		q = p
	}
	q.uCount = max(q.uCount, float64(d))
	return q
}

func (in Input) check() error {
	if len(in.Tone) != 1 && len(in.Tone) != 3 {
		return errors.New("strands: one plane or three are needed")
	}
	for _, t := range in.Tone {
		if t.W != in.Cavity.W || t.H != in.Cavity.H {
			return errors.New("strands: a plane and the cavity's mask differ in size")
		}
	}
	return nil
}
