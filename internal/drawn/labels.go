package drawn

import "math"

// class is what a pixel shows, for whoever learns to find the part's regions.
type class uint8

const (
	classGround     class = iota // all that lies about, shadows too
	classReference               // the scale reference
	classInsulation              // its cut face too
	classConductor               // bare strands between insulation and sleeve; of a stripped wire all bare strands
	classSleeve                  // bellmouth included
	classBrush                   // strands past the sleeve's front edge
	classBody                    // neck and body
	classStray                   // strands outside the sleeve
	classInside                  // strands seen between the wings: an open seam, a missing piece
)

// class sorts what hit found at a place. Strands in the sleeve's end faces belong to what comes out of it there.
func (r *renderer) class(h spot) class {
	switch h.what {
	case insulation, cutFace:
		return classInsulation
	case strand:
		return classConductor
	case strandEnd:
		return classBrush
	case strayed:
		return classStray
	case sheet:
		return classSleeve
	case sheetEnd:
		return h.part.endClass(h.at)
	case packed:
		if h.part.underWings(h.at) {
			return classSleeve
		}
		return classInside
	case neck, body:
		return classBody
	case ink, paper, paperSide, ruleTop, discTop, slabSide:
		return classReference
	}
	if b := r.scene.Board; !b.None && b.HeightMM == 0 { // printed on the card: light squares too
		if u, v, on := r.onPaper(h.at); on && max(math.Abs(u)-float64(b.Cols+1)*b.SquareMM/2, math.Abs(v)-float64(b.Rows+1)*b.SquareMM/2) <= 0 {
			return classReference
		}
	}
	return classGround
}

// endClass tells sheet from strands in the sleeve's end faces.
func (g *geometry) endClass(p vec) class {
	switch {
	case g.Sleeve.Form != "", -g.profile(clamp(p.X, 0, g.Sleeve.LengthMM), p.Y, p.Z) <= g.Sleeve.SheetMM:
		return classSleeve
	case p.X < g.Sleeve.LengthMM/2:
		return classConductor
	}
	return classBrush
}
