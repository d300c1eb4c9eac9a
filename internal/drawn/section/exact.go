package section

import "math"

// Scenes of known area, for tests of whoever measures.

// plainScene shows a geometry upright and without any fault of optics or surface, in grey on dark resin.
func plainScene(g Geometry, mmPerPX float64) Scene {
	s := Scene{Seed: 1, MMPerPX: mmPerPX, Exact: &g, Format: Format{Kind: "png", Grey: true, Bits: 8}}
	outer := append(append([]Polygon{}, g.Sheet...), g.Strands...)
	lo, hi := outer[0].box()
	s.Width, s.Height = int(math.Round((hi.X-lo.X)/mmPerPX))+120, int(math.Round((hi.Y-lo.Y)/mmPerPX))+120
	grey := func(v float64) [3]float64 { return [3]float64{v, v, v} }
	s.Look = Look{Resin: grey(0.2), Sleeve: grey(0.85), Strand: grey(0.6), Void: grey(0.1), Tin: grey(0.9)}
	s.Optics = Optics{BlurPX: 0.7, Exposure: 1, Gamma: 1}
	return s
}

// Disc is a round disc of metal of the given diameter (mm) in resin.
func Disc(diameterMM, mmPerPX float64) Scene {
	return plainScene(Geometry{Sheet: []Polygon{circle(Point{}, diameterMM/2, 720)}}, mmPerPX)
}

// Plate is a polygon of metal (mm, counterclockwise) in resin.
func Plate(p Polygon, mmPerPX float64) Scene {
	return plainScene(Geometry{Sheet: []Polygon{p}}, mmPerPX)
}

// Lattice names how equal circles are packed.
type Lattice int

// The two packings. Voids of the endless lattice: 1 - pi/(2·sqrt(3)) = 0.09310 and 1 - pi/4 = 0.21460.
const (
	Hex Lattice = iota
	Square
)

// Packing is a rectangular frame of metal, wallMM thick, round a cavity that is filled with touching circles of the given
// diameter: cols of them along x and rows along y. The cavity is cut along the lattice's own lines, through the middles of
// the circles at its border, so that its void ratio is exactly that of the endless lattice (rows even for Hex).
func Packing(kind Lattice, diameterMM float64, cols, rows int, wallMM, mmPerPX float64) Scene {
	d := diameterMM
	rise := d
	if kind == Hex {
		rise = d * math.Sqrt(3) / 2
	}
	cavity := rectangle(float64(cols)*d, float64(rows)*rise)
	var strands []Polygon
	for j := range rows + 1 {
		for i := -1; i <= cols; i++ {
			c := Point{float64(i) * d, float64(j) * rise}
			if kind == Hex && j%2 == 1 {
				c.X += d / 2
			}
			p := []Polygon{circle(c, d/2, 360)}
			for _, h := range []half{{Point{-1, 0}, 0}, {Point{1, 0}, float64(cols) * d}, {Point{0, -1}, 0}, {Point{0, 1}, float64(rows) * rise}} {
				if len(p) > 0 {
					p = p[0].clip(h)
				}
			}
			if len(p) > 0 && p[0].Area() > 1e-6*d*d {
				strands = append(strands, p[0])
			}
		}
	}
	lo, hi := cavity.box()
	frame := Polygon{{lo.X - wallMM, lo.Y - wallMM}, {hi.X + wallMM, lo.Y - wallMM}, {hi.X + wallMM, hi.Y + wallMM}, {lo.X - wallMM, hi.Y + wallMM}}
	g := Geometry{Sheet: []Polygon{frame, Polygon(line(cavity).reversed())}, Cavities: []Polygon{cavity}, Strands: strands}
	s := plainScene(g, mmPerPX)
	s.Look.GrooveMM, s.Look.GrooveDark = 1.2*mmPerPX, 0.8
	return s
}

func rectangle(w, h float64) Polygon { return Polygon{{0, 0}, {w, 0}, {w, h}, {0, h}} }
