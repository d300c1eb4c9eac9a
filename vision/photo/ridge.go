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

// stripe tells how much a stripe stands out that runs through the pixel place (x, y) in direction (tx, ty): in each channel the
// smaller of its differences to the flank on either side, 0 where it lies between them as on an edge; the root of the sum of squares
// over the channels. Samples are averaged over three places along the stripe. -1 where the picture ends.
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

// follow walks along the stripe from (x, y) in direction (tx, ty) until it is lost, and returns the places up to the last one at
// which it stood out by floor and by faintShare of what it did before.
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

// section is what a stripe's cross-section shows along its course.
type section struct {
	wide     float64    // contrast of a stripe twice as wide over that of one as wide as a strand: half for a strand, 1 and more for wider things
	uneven   float64    // difference of the flanks over the contrast: small on one ground, large on an edge
	ahead    float64    // just beyond the tip: 0 the ground is as it is beside the stripe, 1 as on the stripe
	contrast [3]float64 // ln of B, G, R against the mean of both flanks, median
}

// sectionOf looks at the cross-section of a trail; its last point is the tip.
func (r *relief) sectionOf(t []trailPoint) (s section, ok bool) {
	var narrow, wide, uneven, weight float64
	var contrast, flank [3][]float64
	for k := range t {
		v, ok := r.across(t, k)
		if !ok {
			continue
		}
		for c := range v {
			mid := r.meanOver(v[c], 0, 0.3)
			l, u := r.meanOver(v[c], -1.25, -0.75), r.meanOver(v[c], 0.75, 1.25)
			contrast[c] = append(contrast[c], mid-(l+u)/2)
			flank[c] = append(flank[c], (l+u)/2)
			narrow += smaller(mid, l, u)
			wide += smaller(r.meanOver(v[c], 0, 0.75), r.meanOver(v[c], -sectionReach, -1.5), r.meanOver(v[c], 1.5, sectionReach))
			uneven += math.Abs(l - u)
			weight += math.Abs(mid - (l+u)/2)
		}
	}
	if len(contrast[0]) < 4 || weight == 0 {
		return s, false
	}
	s.wide, s.uneven = wide/math.Max(narrow, 1e-6), uneven/weight
	for c := range contrast {
		s.contrast[c] = subpixel.Percentile(contrast[c], 50)
	}
	s.ahead = r.aheadOf(t, contrast, flank)
	return s, true
}

const sectionReach = 2.4 // strand widths to either side

// across samples the cross-section at point k of a trail, one value a pixel from one side to the other.
func (r *relief) across(t []trailPoint, k int) (v [3][]float64, ok bool) {
	half := int(sectionReach*r.strandPX + 0.5)
	a, b := t[max(0, k-2)], t[min(len(t)-1, k+2)]
	l := math.Hypot(b.x-a.x, b.y-a.y)
	nx, ny := -(b.y-a.y)/l, (b.x-a.x)/l
	for c := range v {
		v[c] = make([]float64, 2*half+1)
	}
	for m := -half; m <= half; m++ {
		at, ok := r.index(t[k].x+float64(m)*nx, t[k].y+float64(m)*ny)
		if !ok {
			return v, false
		}
		for c := range v {
			v[c][m+half] = float64(r.ln[c][at])
		}
	}
	return v, true
}

// index is the grid point nearest to a pixel place; ok is false outside the picture.
func (r *relief) index(x, y float64) (at int, ok bool) {
	i, j := int(math.Floor(x+0.5)), int(math.Floor(y+0.5))
	if i < 0 || j < 0 || i >= r.w || j >= r.h {
		return 0, false
	}
	return j*r.w + i, r.inside[j*r.w+i]
}

// meanOver averages a cross-section from..to strand widths off its middle; from 0 it means both sides.
func (r *relief) meanOver(v []float64, from, to float64) float64 {
	if from == 0 {
		from = -to
	}
	half := len(v) / 2
	sum, n := 0.0, 0.0
	for m := -half; m <= half; m++ {
		if f := float64(m) / r.strandPX; f >= from && f <= to {
			sum, n = sum+v[m+half], n+1
		}
	}
	return sum / n
}

// smaller is the smaller of the differences of mid to both flanks, 0 where it lies between them.
func smaller(mid, l, u float64) float64 {
	if (mid-l)*(mid-u) <= 0 {
		return 0
	}
	return math.Min(math.Abs(mid-l), math.Abs(mid-u))
}

// aheadOf compares what lies straight beyond a trail's tip with the stripe and its flanks near there.
func (r *relief) aheadOf(t []trailPoint, contrast, flank [3][]float64) float64 {
	const fromMM, toMM, last = 0.35, 0.6, 8
	n := len(t)
	a := t[max(0, n-1-int(0.6*r.ppm/trailStepPX))]
	dx, dy := t[n-1].x-a.x, t[n-1].y-a.y
	l := math.Hypot(dx, dy)
	var along, square float64
	for c := range r.ln {
		on := subpixel.Percentile(contrast[c][max(0, len(contrast[c])-last):], 50)
		off := subpixel.Percentile(flank[c][max(0, len(flank[c])-last):], 50)
		for d := fromMM * r.ppm; d <= toMM*r.ppm; d++ {
			if at, ok := r.index(t[n-1].x+d*dx/l, t[n-1].y+d*dy/l); ok {
				along += (float64(r.ln[c][at]) - off) * on
				square += on * on
			}
		}
	}
	if square == 0 {
		return 0
	}
	return along / square
}
