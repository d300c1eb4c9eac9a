package section

import (
	"math"
	"runtime"
	"sync"
)

// film is a picture in display values before it is stored, with the shares of metal and of free resin in every pixel.
type film struct {
	w, h         int
	pix          []float32 // three a pixel
	metal, resin []float32
}

// fine is the number of sampling squares along a pixel's side; each has exact coverage.
const fine = 2

// rows calls work for pieces of 0..n at once.
func rows(n, height int, work func(from, to int)) {
	jobs := make(chan int)
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for y := range jobs {
				work(y, min(n, y+height))
			}
		})
	}
	for y := 0; y < n; y += height {
		jobs <- y
	}
	close(jobs)
	wg.Wait()
}

// painter holds what is needed to paint a band of rows.
type painter struct {
	s        Scene
	view     view
	g        *Geometry
	sheet    []Polygon // in grid squares
	cavities []Polygon
	strands  []Polygon
	seam     []Point
	crack    []Point
	perMM    float64 // grid squares a millimetre
	metal    *grains
	copper   *grains
	tones    [][3]float32 // a strand's brightness and hue
	seed     uint64
}

func (s Scene) paint(g *Geometry) *film {
	f := &film{w: s.Width, h: s.Height, pix: make([]float32, 3*s.Width*s.Height), metal: make([]float32, s.Width*s.Height), resin: make([]float32, s.Width*s.Height)}
	p := &painter{s: s, g: g, view: s.view(g), perMM: fine / s.MMPerPX, seed: hash(uint64(s.Seed), 21)}
	grid := func(l []Point) []Point {
		out := make([]Point, len(l))
		for i, q := range l {
			q = p.view.px(q)
			out[i] = Point{(q.X + 0.5) * fine, (q.Y + 0.5) * fine}
		}
		return out
	}
	if !s.NoSection {
		for _, q := range g.Sheet {
			p.sheet = append(p.sheet, grid(q))
		}
		for _, q := range g.Cavities {
			p.cavities = append(p.cavities, grid(q))
		}
		for _, q := range g.Strands {
			p.strands = append(p.strands, grid(q))
		}
		p.seam, p.crack = grid(g.seam), grid(g.Crack)
	}
	l := s.Look
	size, aspect := l.GrainMM, max(l.GrainAspect, 1)
	if size <= 0 {
		size = 0.02
	}
	p.metal = newGrains(size, aspect, l.GrainDeg, l.Twins, p.seed)
	p.copper = newGrains(size*max(l.StrandGrain, 0.2), 1, 0, l.Twins, p.seed+1)
	for i := range p.strands {
		// One number for the brightness, one for the hue; by rank so that a mirrored scene has the same ones.
		n := func(k uint64) float64 { return 1.7 * (unit(p.seed, uint64(i), k) + unit(p.seed, uint64(i), k+9) - 1) }
		b, hue := l.StrandTone*n(1), 0.4*l.StrandTone*n(2)
		p.tones = append(p.tones, [3]float32{float32(1 + b), float32(1 + b - hue), float32(1 + b + hue)})
	}
	rows(s.Height, 24, func(from, to int) { p.band(f, from, to) })
	return f
}

// band paints the rows from..to of the picture.
func (p *painter) band(f *film, from, to int) {
	win := window{0, from * fine, p.s.Width * fine, (to - from) * fine}
	n := win.w * win.h
	sheet, cavity := make([]float32, n), make([]float32, n)
	l := p.s.Look
	reach := max(3*l.RoundMM, l.PlatingMM, 0.004)*p.perMM + 2
	edges := newField(win, reach)
	for _, q := range p.sheet {
		if !around(q, 0).cut(win).empty() {
			cover(sheet, win, q)
		}
		edges.add(Polygon(q).edges())
	}
	for _, q := range p.cavities {
		if !around(q, 0).cut(win).empty() {
			cover(cavity, win, q)
		}
	}
	seams := newField(win, 3*l.SeamMM*p.perMM+1)
	seams.add(p.seam)
	cracks := newField(win, p.g.CrackMM*p.perMM+2)
	cracks.add(p.crack)
	pix := make([]float32, 3*n)
	filled := make([]float32, n)
	for i := range p.strands {
		p.strand(pix, filled, win, i)
	}
	for y := range win.h {
		for x := range win.w {
			i := y*win.w + x
			at := p.place(win.x0+x, win.y0+y)
			var c [3]float32
			mix := func(k float32, d [3]float32) {
				for j := range c {
					c[j] += k * d[j]
				}
			}
			copy(c[:], pix[3*i:])
			if k := sheet[i]; k > 0.002 {
				mix(k, p.sleeve(at, edges.d[i]))
			}
			if k := cavity[i] - filled[i]; k > 0.002 {
				mix(k, p.void(at))
			}
			if k := 1 - sheet[i] - cavity[i]; k > 0.002 {
				mix(k, p.resin(at, edges.d[i]))
			}
			if d := seams.d[i]; float64(d) < seams.reach {
				p.dark(&c, float64(d)/p.perMM/max(l.SeamMM, 1e-6), l.SeamDark*smooth(l.SeamFaint-0.2, l.SeamFaint+0.2, noise(at.X/0.05, at.Y/0.05, p.seed+6)))
			}
			if d := cracks.d[i]; float64(d) < cracks.reach {
				half := p.g.CrackMM / 2 * (0.4 + 1.2*noise(at.X/0.02, at.Y/0.02, p.seed+8))
				share := clamp(0.5+half*p.perMM-float64(d), 0, 1)
				p.dark(&c, 0, 0.92*share)
			}
			copy(pix[3*i:3*i+3], c[:])
		}
	}
	p.gather(f, from, win, pix, sheet, filled, cavity)
}

// gather takes the mean of the sampling squares of every pixel.
func (p *painter) gather(f *film, from int, win window, pix, sheet, filled, cavity []float32) {
	const k = 1. / (fine * fine)
	for y := range win.h {
		for x := range win.w {
			i := y*win.w + x
			o := (from+y/fine)*f.w + x/fine
			for c := range 3 {
				f.pix[3*o+c] += k * pix[3*i+c]
			}
			f.metal[o] += k * (sheet[i] + filled[i])
			f.resin[o] += k * max(0, 1-sheet[i]-cavity[i])
		}
	}
}

// place is where a sampling square lies on the part; mirrored for the textures of a mirrored scene.
func (p *painter) place(x, y int) Point {
	at := p.view.mm(Point{(float64(x)+0.5)/fine - 0.5, (float64(y)+0.5)/fine - 0.5})
	if p.s.Mirrored {
		at.X = -at.X
	}
	return at
}

func (p *painter) dark(c *[3]float32, ratio, by float64) {
	if ratio > 3 {
		return
	}
	k := float32(1 - clamp(by*math.Exp(-ratio*ratio), 0, 0.97))
	for j := range c {
		c[j] *= k
	}
}

// strand adds one strand: its colour times its coverage.
func (p *painter) strand(pix, filled []float32, band window, i int) {
	l := p.s.Look
	reach := max(3*l.GrooveMM, l.TinnedMM+0.002, 0.004)*p.perMM + 2
	win := around(p.strands[i], 1).cut(band)
	if win.empty() {
		return
	}
	cov := make([]float32, win.w*win.h)
	cover(cov, win, p.strands[i])
	rim := newField(win, reach)
	rim.add(Polygon(p.strands[i]).edges())
	wide := newField(win, 0)
	relief := l.StrandRelief > 0
	if relief {
		wide = newField(win, 0.05*p.perMM)
		wide.add(Polygon(p.strands[i]).edges())
	}
	tone, turn := p.tones[i], uint32(hash(p.seed, uint64(i)))
	base, tin := colour(l.Strand), colour(l.Tin)
	for y := range win.h {
		for x := range win.w {
			k := y*win.w + x
			if cov[k] <= 0.002 {
				continue
			}
			at := p.place(win.x0+x, win.y0+y)
			g, b := p.copper.at(at.X, at.Y, turn)
			shade := float32(l.GrainTone*l.Etch)*g - float32(l.GrainLine*l.Etch)*b
			if relief {
				shade += float32(l.StrandRelief) * (wide.d[k]/float32(wide.reach) - 0.7)
			}
			c := [3]float32{base[0] * tone[0], base[1] * tone[1], base[2] * tone[2]}
			d := float64(rim.d[k]) / p.perMM
			if l.TinnedMM > 0 {
				mixTo(&c, tin, float32(smooth(l.TinnedMM+0.6/p.perMM, l.TinnedMM-0.6/p.perMM, d)))
			}
			for j := range c {
				c[j] *= max(0.2, 1+shade)
			}
			if float64(rim.d[k]) < reach {
				p.groove(&c, at, d)
			}
			o := (win.y0+y-band.y0)*band.w + win.x0 + x - band.x0
			for j := range c {
				pix[3*o+j] += cov[k] * c[j]
			}
			filled[o] += cov[k]
		}
	}
}

// groove darkens a strand's rim; where and how much changes along it.
func (p *painter) groove(c *[3]float32, at Point, d float64) {
	l := p.s.Look
	if l.GrooveMM <= 0 {
		return
	}
	n := 0.7*noise(at.X/0.07, at.Y/0.07, p.seed+2) + 0.3*noise(at.X/0.025, at.Y/0.025, p.seed+3)
	seen := 1.
	if l.GrooveFaint > 0 {
		seen = smooth(0.2+0.6*l.GrooveFaint-0.12, 0.2+0.6*l.GrooveFaint+0.12, n)
	}
	wide := l.GrooveMM * (0.55 + 0.9*noise(at.X/0.09, at.Y/0.09, p.seed+4))
	p.dark(c, d/wide, l.GrooveDark*seen)
}

// sleeve is the sleeve's metal; d is the distance to its edge in grid squares.
func (p *painter) sleeve(at Point, d float32) [3]float32 {
	l := p.s.Look
	g, b := p.metal.at(at.X, at.Y, 0)
	shade := float32(l.GrainTone)*g - float32(l.GrainLine)*b
	c := colour(l.Sleeve)
	mm := float64(d) / p.perMM
	if l.PlatingMM > 0 {
		mixTo(&c, colour(l.Tin), float32(smooth(l.PlatingMM+0.6/p.perMM, l.PlatingMM-0.6/p.perMM, mm)))
	}
	for j := range c {
		c[j] *= max(0.2, 1+shade)
	}
	if l.RoundMM > 0 && mm < 3*l.RoundMM {
		p.dark(&c, mm/l.RoundMM, l.RoundDark*(0.5+noise(at.X/0.2, at.Y/0.2, p.seed+5)))
	}
	return c
}

// resin is the mounting resin outside.
func (p *painter) resin(at Point, d float32) [3]float32 {
	l := p.s.Look
	c := colour(l.Resin)
	n := 0.65*noise(at.X/0.6, at.Y/0.6, p.seed+10) + 0.25*noise(at.X/0.15, at.Y/0.15, p.seed+11) + 0.1*noise(at.X/0.02, at.Y/0.02, p.seed+12)
	k := float32(1 + 2*l.Clouds*(n-0.5))
	if mm := float64(d) / p.perMM; l.RoundMM > 0 && mm < 3*l.RoundMM {
		r := mm / (1.3 * l.RoundMM)
		k *= float32(1 + (l.HaloBright*noise(at.X/0.3, at.Y/0.3, p.seed+14)-l.ShadowDark*noise(at.X/0.25, at.Y/0.25, p.seed+13))*math.Exp(-r*r))
	}
	for j := range c {
		c[j] *= k
	}
	return c
}

// void is what shows in an empty place between strands: resin deep down, dirt, darkness.
func (p *painter) void(at Point) [3]float32 {
	c := colour(p.s.Look.Void)
	k := float32(0.45 + 0.8*noise(at.X/0.03, at.Y/0.03, p.seed+15) + 0.35*noise(at.X/0.008, at.Y/0.008, p.seed+16))
	for j := range c {
		c[j] *= k
	}
	return c
}

func colour(c [3]float64) [3]float32 {
	return [3]float32{float32(c[0]), float32(c[1]), float32(c[2])}
}

func mixTo(c *[3]float32, d [3]float32, t float32) {
	for j := range c {
		c[j] += t * (d[j] - c[j])
	}
}
