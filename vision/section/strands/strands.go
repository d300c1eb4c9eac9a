// Package strands tells the strands of a section one by one, and the voids between them.
package strands

import (
	"errors"
	"fmt"
	"os"

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
	f := newField(in)
	if f == nil || !f.level() {
		return Found{}, nil
	}
	void := f.openings(0)
	p := segment(f, void)
	return p.report(), nil
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

func (p *partition) report() Found {
	var out Found
	if p.g == nil {
		return out
	}
	for _, q := range p.g.piece {
		if q != nil && float64(q.area) > scrap*p.g.rule.size {
			out.Strands = append(out.Strands, Strand{AreaPX: float64(q.area * p.f.scale * p.f.scale)})
		}
	}
	e := p.empty()
	px := float64(p.f.scale * p.f.scale)
	out.VoidAreaPX = max(0, e.blobs+e.gaps+e.corners) * px
	out.UVoidAreaPX = e.u * px
	if os.Getenv("TRACE") != "" {
		a := float64(p.f.area)
		fmt.Printf("   wide %.2f gap %.2f width %.2f blobs %.4f gaps %.4f corners %.4f  len %.4f wall %.4f\n", e.wide, e.gap, e.width, e.blobs/a, e.gaps/a, e.corners/a, e.length/a, e.wall/a)
	}
	return out
}
