package photo

import (
	"math"
	"slices"

	"crimprule/vision/part"
	"crimprule/vision/subpixel"
)

// relief is the picture round the part as ln of brightness on a metric grid, in which thin stripes are looked for. In
// the logarithm a strand stands out alike on lit ground and in a shadow.
type relief struct {
	ppm, x0, y0 float64 // pixel (i, j) shows x = x0 + i/ppm, y = y0 - j/ppm
	w, h        int
	ln          [3][]float32
	inside      []bool
	strandPX    float64 // width of the stripes looked for
}

const reliefFloor = 16 // brightness that counts as black: about the noise of dark tones

// newRelief resamples the picture in the frame at z = 0. Places in the picture are computed on every eighth grid point
// and interpolated between; over half a millimetre a perspective is straight to a thousandth of a pixel.
func newRelief(im part.Image, f part.Frame, x0, x1, y0, y1, ppm, strandMM float64) *relief {
	r := blankRelief(x0, y1, int((x1-x0)*ppm)+1, int((y1-y0)*ppm)+1, ppm, strandMM)
	const cell = 8
	cols := r.w/cell + 2
	grid := make([]place, cols*(r.h/cell+2))
	for k := range grid {
		p := f.Pixel(x0+float64(k%cols*cell)/ppm, y1-float64(k/cols*cell)/ppm, 0)
		grid[k] = place{p.X, p.Y}
	}
	for j := range r.h {
		fy := float64(j%cell) / cell
		for i := range r.w {
			fx := float64(i%cell) / cell
			g := grid[j/cell*cols+i/cell:]
			a, b, c, d := g[0], g[1], g[cols], g[cols+1]
			v, ok := bilinear(im,
				(1-fy)*((1-fx)*a.x+fx*b.x)+fy*((1-fx)*c.x+fx*d.x),
				(1-fy)*((1-fx)*a.y+fx*b.y)+fy*((1-fx)*c.y+fx*d.y))
			r.put(j*r.w+i, v, ok)
		}
	}
	r.smooth()
	return r
}

type place struct{ x, y float64 }

// bilinear gives the BGR values between pixels; ok is false outside the picture.
func bilinear(im part.Image, x, y float64) (bgr [3]float32, ok bool) {
	i, j := int(math.Floor(x)), int(math.Floor(y))
	if i < 0 || j < 0 || i+1 >= im.W || j+1 >= im.H {
		return bgr, false
	}
	fx, fy := float32(x-float64(i)), float32(y-float64(j))
	k := 3 * (j*im.W + i)
	p, q := im.Pix[k:k+6:k+6], im.Pix[k+3*im.W:k+3*im.W+6:k+3*im.W+6]
	for c := range bgr {
		top := float32(p[c]) + fx*(float32(p[c+3])-float32(p[c]))
		bottom := float32(q[c]) + fx*(float32(q[c+3])-float32(q[c]))
		bgr[c] = top + fy*(bottom-top)
	}
	return bgr, true
}

func blankRelief(x0, yTop float64, w, h int, ppm, strandMM float64) *relief {
	r := &relief{ppm: ppm, x0: x0, y0: yTop, w: w, h: h, inside: make([]bool, w*h), strandPX: strandMM * ppm}
	for c := range r.ln {
		r.ln[c] = make([]float32, w*h)
	}
	return r
}

func (r *relief) put(k int, bgr [3]float32, ok bool) {
	r.inside[k] = ok
	for c := range r.ln {
		r.ln[c][k] = lnOf(bgr[c])
	}
}

var lnTable = func() (t [257]float32) {
	for i := range t {
		t[i] = float32(math.Log(float64(i) + reliefFloor))
	}
	return
}()

func lnOf(v float32) float32 {
	i := int(v)
	f := v - float32(i)
	return lnTable[i] + f*(lnTable[i+1]-lnTable[i])
}

// smooth runs 1-2-1 both ways: interpolation's and compression's own grain is gone, a strand of four pixels is not.
func (r *relief) smooth() {
	for _, p := range r.ln {
		for j := range r.h {
			row := p[j*r.w : (j+1)*r.w]
			last := row[0]
			for i := 1; i+1 < len(row); i++ {
				v := row[i]
				row[i] = (last + 2*v + row[i+1]) / 4
				last = v
			}
		}
		above := make([]float32, r.w)
		copy(above, p)
		for j := 1; j+1 < r.h; j++ {
			for i := range r.w {
				k := j*r.w + i
				v := p[k]
				p[k] = (above[i] + 2*v + p[k+r.w]) / 4
				above[i] = v
			}
		}
	}
}

// stripe tells how much a stripe stands out that runs through the pixel place (x, y) in direction (tx, ty): in each
// channel the smaller of its differences to the flank on either side, 0 where it lies between them as on an edge; the
// root of the sum of squares over the channels. Samples are averaged over three places along the stripe. -1 where the
// picture ends.
func (r *relief) stripe(x, y, tx, ty float64) float64 {
	nx, ny := -ty, tx
	a, f0, f1 := 0.18*r.strandPX, 0.8*r.strandPX, 1.15*r.strandPX
	lateral := [7]float64{-f1, -f0, -a, 0, a, f0, f1}
	var sum [3][7]float32
	for k := -1.0; k <= 1; k++ {
		bx, by := x+k*0.4*r.strandPX*tx+0.5, y+k*0.4*r.strandPX*ty+0.5
		for m, l := range lateral {
			i, j := int(bx+l*nx), int(by+l*ny)
			if i < 0 || j < 0 || i >= r.w || j >= r.h {
				return -1
			}
			at := j*r.w + i
			if !r.inside[at] {
				return -1
			}
			for c := range sum {
				sum[c][m] += r.ln[c][at]
			}
		}
	}
	total := 0.0
	for _, s := range sum {
		mid := (s[2] + s[3] + s[4]) / 3
		one, two := mid-(s[0]+s[1])/2, mid-(s[5]+s[6])/2
		if one < 0 {
			one, two = -one, -two
		}
		if d := float64(min(one, two)) / 3; d > 0 {
			total += d * d
		}
	}
	return math.Sqrt(total)
}

const directions = 16

// strongest is the direction in which a stripe stands out most at a pixel place.
func (r *relief) strongest(x, y float64) (s, tx, ty float64) {
	s = -1
	for k := range directions {
		a := math.Pi * float64(k) / directions
		cx, cy := math.Cos(a), math.Sin(a)
		if v := r.stripe(x, y, cx, cy); v > s {
			s, tx, ty = v, cx, cy
		}
	}
	return s, tx, ty
}

// trailPoint is a place on a stripe that was followed, in pixels, and how much the stripe stands out there.
type trailPoint struct{ x, y, s float64 }

const (
	trailStepPX = 1.5
	turnStep    = 9 * math.Pi / 180 // a step's smallest turn looked at; the largest is twice that
	lostAfterMM = 0.45              // the stripe may be hidden or faint for this long
	faintShare  = 0.3               // of its median so far: below this it counts as lost
)

// follow walks along the stripe from (x, y) in direction (tx, ty) until it is lost, and returns the places up to the
// last one at which it stood out by floor and by faintShare of what it did before.
func (r *relief) follow(x, y, tx, ty, floor, maxMM float64) []trailPoint {
	var trail []trailPoint
	good := 0
	var strengths []float64
	low := floor
	for len(trail) < int(maxMM*r.ppm/trailStepPX) {
		best, bx, by := -1.0, 0.0, 0.0
		for k := -2.0; k <= 2; k++ {
			c, s := math.Cos(k*turnStep), math.Sin(k*turnStep)
			dx, dy := c*tx-s*ty, s*tx+c*ty
			v := r.stripe(x+trailStepPX*dx, y+trailStepPX*dy, dx, dy)
			if v >= 0 {
				v *= 1 - 0.04*math.Abs(k)
			}
			if v > best {
				best, bx, by = v, dx, dy
			}
		}
		if best < 0 {
			break
		}
		if best < low { // keep the way where there is nothing to see
			bx, by = tx, ty
		}
		x, y = x+trailStepPX*bx, y+trailStepPX*by
		tx, ty = tx+0.6*(bx-tx), ty+0.6*(by-ty)
		n := math.Hypot(tx, ty)
		tx, ty = tx/n, ty/n
		trail = append(trail, trailPoint{x, y, best})
		if best >= low {
			good = len(trail)
			strengths = append(strengths, best)
			low = math.Max(floor, faintShare*subpixel.Percentile(strengths, 50))
		} else if float64(len(trail)-good)*trailStepPX > lostAfterMM*r.ppm {
			break
		}
	}
	return trail[:good]
}

// seed is where a stripe was noticed: pixel place, how much it stands out, and its direction.
type seed struct{ x, y, s, tx, ty float64 }

// followBoth follows a stripe from a seed both ways.
func (r *relief) followBoth(s seed, floor float64) []trailPoint {
	const farthestMM = 8
	back := r.follow(s.x, s.y, -s.tx, -s.ty, floor, farthestMM)
	slices.Reverse(back)
	back = append(back, trailPoint{s.x, s.y, s.s})
	return append(back, r.follow(s.x, s.y, s.tx, s.ty, floor, farthestMM)...)
}

// resumed takes a trail up again beyond its end, or returns nil. Where a strand passes from shadow to light its stripe
// vanishes and comes back on its other side, and the edge of the shadow may have led the trail astray just before. So
// the search starts bySteps before the end, straight on, for a stripe that runs on in about the same direction for a
// while, of the same hue and on other ground: else what follows is more likely the strand's shadow.
func (r *relief) resumed(t []trailPoint, bySteps int, enough float64) []trailPoint {
	const (
		gapMM, onMM, directionMM = 0.6, 0.4, 0.8
		otherGround              = 0.15 // ln of brightness
		turn                     = 12 * math.Pi / 180
	)
	steps := func(mm float64) int { return int(mm * r.ppm / trailStepPX) }
	end := len(t) - 1 - bySteps
	start := end - steps(directionMM)
	if start < 0 {
		return nil
	}
	e, tip := t[end], t[len(t)-1]
	dx, dy := towards(t[start], e)
	farthest := (tip.x-e.x)*dx + (tip.y-e.y)*dy + onMM/2*r.ppm
	ground, hue := r.besideOf(t[start:end]), r.hueOf(t[start:end])
	var best []trailPoint
	for d := 2.0; best == nil && d <= float64(bySteps)*trailStepPX+gapMM*r.ppm; d++ {
		for a := -2.0; a <= 2; a++ {
			tx, ty := math.Cos(a*turn)*dx-math.Sin(a*turn)*dy, math.Sin(a*turn)*dx+math.Cos(a*turn)*dy
			s := seed{x: e.x + d*(dx+tx)/2, y: e.y + d*(dy+ty)/2, tx: tx, ty: ty} // on an arc
			if r.stripe(s.x, s.y, tx, ty) < enough || passes(t[end:], s.x, s.y, 0.3*r.strandPX) {
				continue
			}
			on := r.follow(s.x, s.y, tx, ty, enough, 4)
			if len(on) < steps(onMM) || math.Abs(r.besideOf(on[:steps(onMM)])-ground) < otherGround {
				continue
			}
			if math.Abs(r.hueOf(on[:steps(onMM)])-hue) > sameHue {
				continue
			}
			f := on[len(on)-1]
			fx, fy := towards(trailPoint{x: s.x, y: s.y}, f)
			reached := (f.x-e.x)*dx + (f.y-e.y)*dy
			if reached > farthest && fx*tx+fy*ty > math.Cos(2*turn) {
				best, farthest = append(t[:end+1:end+1], on...), reached
			}
		}
	}
	return best
}

// towards is the unit vector from a to b.
func towards(a, b trailPoint) (dx, dy float64) {
	l := math.Hypot(b.x-a.x, b.y-a.y)
	return (b.x - a.x) / l, (b.y - a.y) / l
}

const sameHue = 0.15 // ln of red over blue, within a strand

// ownPart ends a trail at a place where it nearly vanishes and goes on in another hue: there a strand ends at its own
// shadow.
func (r *relief) ownPart(t []trailPoint) []trailPoint {
	const beside, vanishes = 6, 0.35
	for k := beside; k+beside < len(t); k++ {
		var before []float64
		for _, q := range t[k-beside : k] {
			before = append(before, q.s)
		}
		if t[k].s < vanishes*subpixel.Percentile(before, 50) &&
			math.Abs(r.hueOf(t[k-beside:k])-r.hueOf(t[k+1:k+1+beside])) > sameHue {
			return t[:k]
		}
	}
	return t
}

// hueOf is the mean ln of red over blue on a trail.
func (r *relief) hueOf(t []trailPoint) float64 {
	sum, n := 0.0, 1e-9
	for _, q := range t {
		if at, ok := r.index(q.x, q.y); ok {
			sum, n = sum+float64(r.ln[2][at]-r.ln[0][at]), n+1
		}
	}
	return sum / n
}

// besideOf is the ground's mean ln of brightness on both sides of a trail.
func (r *relief) besideOf(t []trailPoint) float64 {
	aside := 1.25 * r.strandPX
	sum, n := 0.0, 1e-9
	for k := 1; k < len(t); k++ {
		dx, dy := towards(t[k-1], t[k])
		for _, d := range []float64{-aside, aside} {
			if at, ok := r.index(t[k].x-d*dy, t[k].y+d*dx); ok {
				sum, n = sum+float64(r.ln[0][at]+r.ln[1][at]+r.ln[2][at])/3, n+1
			}
		}
	}
	return sum / n
}

// passes tells whether a trail comes within d of a pixel place.
func passes(t []trailPoint, x, y, d float64) bool {
	return slices.ContainsFunc(t, func(q trailPoint) bool { return math.Hypot(q.x-x, q.y-y) < d })
}

// pixel and point convert between mm and the relief's pixels.
func (r *relief) pixel(q subpixel.Point) (x, y float64) {
	return (q.X - r.x0) * r.ppm, (r.y0 - q.Y) * r.ppm
}

func (r *relief) point(t trailPoint) subpixel.Point {
	return subpixel.Point{X: r.x0 + t.x/r.ppm, Y: r.y0 - t.y/r.ppm}
}
