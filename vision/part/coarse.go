package part

import (
	"cmp"
	"math"
	"slices"

	"crimprule/vision/scale"
)

// overview is the whole picture as it would look from straight above, and what the coarse network makes of it: pixel
// (i, j) of the classes shows the world point (x0 + i/ppm, y0 - j/ppm) at the height of the conductor's axis.
type overview struct {
	ppm, x0, y0, z float64
	shares         [Classes]Plane
	likeliest      []Class // of each pixel; nil until it is asked for
	masked         []bool  // the scale reference, and what lies outside the picture
	outside        []bool  // what lies outside the picture
}

const (
	mostCoarsePX = 400_000 // of the level picture; a larger field is looked at with fewer px per mm
	leastPartMM2 = 8.0     // smaller blobs are no part
)

// look runs the coarse network over the picture, levelled at height z.
func look(s Scene, z float64) (overview, error) {
	x0, x1, y0, y1 := seen(s.Mat.Cols(), s.Mat.Rows(), s.Reference.Camera, z)
	ppm := math.Min(coarsePPM, math.Sqrt(mostCoarsePX/((x1-x0)*(y1-y0))))
	w, h := roundUp((x1-x0)*ppm), roundUp((y1-y0)*ppm)
	small, factor, err := reduced(s.Mat, s.Reference.Camera, (x0+x1)/2, (y0+y1)/2, z, ppm)
	if err != nil {
		return overview{}, err
	}
	defer small.Close()
	pix, err := small.DataPtrUint8()
	if err != nil {
		return overview{}, err
	}
	im := Image{W: small.Cols(), H: small.Rows(), Pix: pix}
	reference := Occupied(s.Reference)
	o := overview{ppm: ppm / coarseStem, x0: x0 + 0.5/ppm, y0: y1 - 0.5/ppm, z: z, masked: make([]bool, w*h/coarseStem/coarseStem),
		outside: make([]bool, w*h/coarseStem/coarseStem)}
	var bgr [3][]float32
	for c := range bgr {
		bgr[c] = make([]float32, w*h)
	}
	for j := range h {
		row := newRay(s.Reference.Camera, scale.Vec{X: x0, Y: y1 - float64(j)/ppm, Z: z}, scale.Vec{X: 1 / ppm})
		for i := range w {
			px, py := row.pixel(float64(i))
			v, ok := im.sample((px+0.5)*factor-0.5, (py+0.5)*factor-0.5)
			for c := range v {
				bgr[c][j*w+i] = v[c]
			}
			k := j/coarseStem*(w/coarseStem) + i/coarseStem
			o.outside[k] = o.outside[k] || !ok
			if !ok || i%coarseStem == 0 && j%coarseStem == 0 && reference(px, py) {
				o.masked[k] = true
			}
		}
	}
	o.shares, _, err = coarseNet.run(bgr, w, h, coarseStem)
	return o, err
}

func roundUp(px float64) int { return (int(px)/coarseStride + 1) * coarseStride }

// world is the place that a pixel of the overview shows.
func (o *overview) world(i, j float64) scale.Vec {
	return scale.Vec{X: o.x0 + i/o.ppm, Y: o.y0 - j/o.ppm, Z: o.z}
}

// blob is a connected stretch of the overview that shows a part: areas in mm², places in mm of the world.
type blob struct {
	area   [Classes]float64
	middle scale.Vec // of the sleeve, or of the bare conductor where there is no sleeve
	angle  float64   // radians, from the wire to the body
	score  float64   // mm² of what makes a part, weighted by the network's own certainty
	cut    bool      // something else than insulation or body reaches the picture's edge
}

// crimped tells whether the blob shows a sleeve, stripped whether it shows a bare conductor without one.
func (b blob) crimped() bool { return b.area[Sleeve]+b.area[Through] >= leastSleeveMM2 }

func (b blob) stripped() bool { return !b.crimped() && b.area[Conductor] >= leastBareMM2 }

// part tells what a pixel shows of a part, and how surely: 0 for ground, reference and what is masked.
func (o *overview) part(i int) (Class, float32) {
	if o.likeliest == nil {
		o.likeliest = likeliest(&o.shares)
	}
	class := o.likeliest[i]
	if o.masked[i] || class == Ground || class == Reference {
		return Ground, 0
	}
	return class, o.shares[class].Pix[i]
}

// blobs lists the parts that the overview shows, likeliest first.
func (o *overview) blobs() []blob {
	w, h := o.shares[0].W, o.shares[0].H
	seen := make([]bool, w*h)
	var out []blob
	for start := range seen {
		if _, share := o.part(start); share == 0 || seen[start] {
			continue
		}
		for _, pixels := range o.split(o.flood(start, w, h, seen)) {
			if b, ok := o.measureBlob(pixels); ok {
				out = append(out, b)
			}
		}
	}
	slices.SortFunc(out, func(p, q blob) int { return cmp.Compare(q.score, p.score) })
	return out
}

// flood collects the part's pixels round one, across gaps of a pixel.
func (o *overview) flood(start, w, h int, seen []bool) []int {
	const gap = 2
	pixels := []int{start}
	seen[start] = true
	for k := 0; k < len(pixels); k++ {
		x, y := pixels[k]%w, pixels[k]/w
		for j := max(0, y-gap); j <= min(h-1, y+gap); j++ {
			for i := max(0, x-gap); i <= min(w-1, x+gap); i++ {
				if n := j*w + i; !seen[n] {
					if _, share := o.part(n); share > 0 {
						seen[n] = true
						pixels = append(pixels, n)
					}
				}
			}
		}
	}
	return pixels
}

// nearMM is how far from the sleeve's middle wire and body still tell the axis' direction.
const nearMM = 10

// measureBlob tells areas, middle and direction of a blob; ok is false for one that is too small for a part.
func (o *overview) measureBlob(pixels []int) (b blob, ok bool) {
	w := o.shares[0].W
	share := 1 / o.ppm / o.ppm
	for _, p := range pixels {
		class, sure := o.part(p)
		b.area[class] += share
		b.score += share * float64(sure)
		b.cut = b.cut || class != Insulation && class != Body && o.atEdge(p)
	}
	middle := []Class{Sleeve, Through}
	if !b.crimped() {
		middle = []Class{Conductor}
	}
	all := func(scale.Vec) bool { return true }
	var n float64
	if b.middle, n = o.mean(pixels, w, all, middle...); n == 0 || b.score < leastPartMM2 {
		return b, b.score >= leastPartMM2
	}
	near := func(v scale.Vec) bool { return math.Hypot(v.X-b.middle.X, v.Y-b.middle.Y) < nearMM }
	wire, nWire := o.mean(pixels, w, near, Insulation)
	body, nBody := o.mean(pixels, w, near, Body, Brush)
	if nWire == 0 {
		wire = b.middle
	}
	if nBody == 0 {
		body = b.middle
	}
	b.angle = math.Atan2(body.Y-wire.Y, body.X-wire.X)
	return b, true
}

// atEdge tells whether a pixel lies at the picture's edge, within a pixel or two.
func (o *overview) atEdge(p int) bool {
	w, h := o.shares[0].W, o.shares[0].H
	x, y := p%w, p/w
	for j := y - 2; j <= y+2; j++ {
		for i := x - 2; i <= x+2; i++ {
			if i < 0 || j < 0 || i >= w || j >= h || o.outside[j*w+i] {
				return true
			}
		}
	}
	return false
}

// mean is the middle of the blob's pixels of some classes that lie where within says, and how many there are.
func (o *overview) mean(pixels []int, w int, within func(scale.Vec) bool, classes ...Class) (m scale.Vec, n float64) {
	for _, p := range pixels {
		class, _ := o.part(p)
		at := o.world(float64(p%w), float64(p/w))
		for _, c := range classes {
			if c == class && within(at) {
				m.X, m.Y, n = m.X+at.X, m.Y+at.Y, n+1
			}
		}
	}
	return scale.Vec{X: m.X / n, Y: m.Y / n, Z: o.z}, n
}
