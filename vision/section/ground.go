package section

import (
	"math"
	"slices"

	"crimprule/vision/section/raster"
	"crimprule/vision/subpixel"
)

const (
	ringShare   = 0.05 // of the picture's shorter side: the rim in which mostly resin is seen
	groundStart = 0.09 // of full scale: how far from the rim's median a pixel may lie and still start the resin's model
	metalShare  = 0.4  // of the sleeve's contrast to the resin: above it a pixel belongs to the section
	leastMetal  = 0.01 // of the picture: a smaller patch is no section
	groundTerms = 6
)

// ground is the resin's tone as a plane of second order in each channel, which takes up uneven light, and its noise.
type ground struct {
	coef  [][groundTerms]float64
	noise float64      // standard deviation of a channel's mean square deviation, full scale 1
	size  raster.Point // of the picture, px
}

// at is the resin's tone in a channel at a place of the picture, px.
func (g ground) at(c int, p raster.Point) float64 { return dot(g.coef[c], g.powers(p)) }

func (g ground) powers(p raster.Point) [groundTerms]float64 {
	x, y := p.X/g.size.X-0.5, p.Y/g.size.Y-0.5
	return [groundTerms]float64{1, x, y, x * x, x * y, y * y}
}

func dot(a, b [groundTerms]float64) float64 {
	s := 0.
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

// findGround models the resin, from the rim inwards. Pixels marked in skip (the scale bar and its label) are left out.
func findGround(v view, skip raster.Mask) ground {
	w, h := v.grey.W, v.grey.H
	g := ground{coef: make([][groundTerms]float64, len(v.tone)), size: raster.Point{X: float64(w) * v.step, Y: float64(h) * v.step}}
	ring := max(int(ringShare*float64(min(w, h))), 2)
	for c := range v.tone {
		var rim []float64
		for y := range h {
			for x := range w {
				if (x < ring || y < ring || x >= w-ring || y >= h-ring) && !skip.Pix[y*w+x] {
					rim = append(rim, float64(v.tone[c].Pix[y*w+x]))
				}
			}
		}
		if len(rim) > 0 {
			g.coef[c][0] = subpixel.Percentile(rim, 50)
		}
	}
	reach := groundStart
	for round := range 5 {
		var sums [groundTerms][groundTerms]float64
		rhs := make([][groundTerms]float64, len(v.tone))
		var dev []float64
		for y := 0; y < h; y += 2 {
			for x := 0; x < w; x += 2 {
				i := y*w + x
				if skip.Pix[i] {
					continue
				}
				d := g.deviation(v, x, y)
				if d > reach {
					continue
				}
				dev = append(dev, d)
				p := g.powers(v.picture(raster.Point{X: float64(x), Y: float64(y)}))
				for a := range p {
					for b := range p {
						sums[a][b] += p[a] * p[b]
					}
					for c := range v.tone {
						rhs[c][a] += p[a] * float64(v.tone[c].Pix[i])
					}
				}
			}
		}
		if len(dev) < 50 {
			break
		}
		for c := range v.tone {
			if k, ok := solve6(sums, rhs[c]); ok {
				g.coef[c] = k
			}
		}
		g.noise = math.Max(subpixel.Percentile(dev, 50)/0.67, 0.5/255)
		if round > 0 {
			reach = math.Min(groundStart, math.Max(4*g.noise, 6./255))
		}
	}
	return g
}

// deviation is how far a pixel lies from the resin, root mean square over the channels.
func (g ground) deviation(v view, x, y int) float64 {
	s := 0.
	i := y*v.grey.W + x
	for c := range v.tone {
		d := float64(v.tone[c].Pix[i]) - g.at(c, v.picture(raster.Point{X: float64(x), Y: float64(y)}))
		s += d * d
	}
	return math.Sqrt(s / float64(len(v.tone)))
}

// metal is the section in the reduced picture: everything that stands out from the resin, holes filled.
type metal struct {
	mask     raster.Mask
	area     int
	contrast float64 // the bright metal's deviation from the resin
	ground   ground
	// border counts the mask's pixels on the picture's rim.
	border int
}

// findMetal separates the section from the resin by the deviation's histogram (Otsu 1979: the threshold that parts the
// histogram into the two most compact classes), then takes the largest piece. ok is false where nothing stands out.
func findMetal(v view, skip raster.Mask) (m metal, ok bool) {
	w, h := v.grey.W, v.grey.H
	m.ground = findGround(v, skip)
	dev := make([]float64, w*h)
	for y := range h {
		for x := range w {
			if !skip.Pix[y*w+x] {
				dev[y*w+x] = m.ground.deviation(v, x, y)
			}
		}
	}
	split := otsu(dev)
	var bright []float64
	for _, d := range dev {
		if d > split {
			bright = append(bright, d)
		}
	}
	if len(bright) < int(leastMetal*float64(w*h)) {
		return m, false
	}
	m.contrast = subpixel.Percentile(bright, 50)
	level := metalShare * m.contrast
	mask := raster.NewMask(w, h)
	for i, d := range dev {
		mask.Pix[i] = d > level
	}
	mask = raster.Largest(mask)
	mask = raster.FillHoles(mask)
	m.mask = mask
	for y := range h {
		for x := range w {
			if mask.Pix[y*w+x] {
				m.area++
				if x == 0 || y == 0 || x == w-1 || y == h-1 {
					m.border++
				}
			}
		}
	}
	return m, m.area > int(leastMetal*float64(w*h)) && m.contrast > 6*m.ground.noise
}

// otsu gives the value that parts numbers from 0 to 1 into two classes with the least variance within them.
func otsu(values []float64) float64 {
	const bins = 256
	top := slices.Max(values)
	if top <= 0 {
		return 0
	}
	var hist [bins]float64
	for _, v := range values {
		hist[min(int(v/top*bins), bins-1)]++
	}
	total, sum := 0., 0.
	for i, n := range hist {
		total += n
		sum += n * float64(i)
	}
	best, at := -1., 0
	below, sumBelow := 0., 0.
	for i, n := range hist {
		below += n
		sumBelow += n * float64(i)
		if below == 0 || below == total {
			continue
		}
		d := sumBelow/below - (sum-sumBelow)/(total-below)
		if s := below * (total - below) * d * d; s > best {
			best, at = s, i
		}
	}
	return (float64(at) + 1) / bins * top
}

// solve6 solves a symmetric system by elimination with pivots.
func solve6(a [groundTerms][groundTerms]float64, b [groundTerms]float64) (x [groundTerms]float64, ok bool) {
	for k := range groundTerms {
		p := k
		for r := k + 1; r < groundTerms; r++ {
			if math.Abs(a[r][k]) > math.Abs(a[p][k]) {
				p = r
			}
		}
		if math.Abs(a[p][k]) < 1e-9 {
			return x, false
		}
		a[k], a[p] = a[p], a[k]
		b[k], b[p] = b[p], b[k]
		for r := k + 1; r < groundTerms; r++ {
			f := a[r][k] / a[k][k]
			for c := k; c < groundTerms; c++ {
				a[r][c] -= f * a[k][c]
			}
			b[r] -= f * b[k]
		}
	}
	for k := groundTerms - 1; k >= 0; k-- {
		s := b[k]
		for c := k + 1; c < groundTerms; c++ {
			s -= a[k][c] * x[c]
		}
		x[k] = s / a[k][k]
	}
	return x, true
}
