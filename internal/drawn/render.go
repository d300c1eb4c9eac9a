package drawn

import (
	"image"
	"math"
	"runtime"
	"sync"
)

type renderer struct {
	scene              Scene
	lens               lens
	part               *geometry   // the one that is measured; surfaces that belong to none are lit in its frame
	parts              []*geometry // it and any other
	slabs              []slab
	masses             []mass
	light              lighting
	boardSin, boardCos float64
	footprint          float64 // size of a pixel on the card, mm
}

func (s Scene) renderer() *renderer {
	r := &renderer{scene: s, lens: s.Camera.lens(s.Width, s.Height), part: s.Part.geometry(s.Seed), slabs: s.slabs(), masses: s.masses()}
	r.parts = []*geometry{r.part}
	if s.Second != nil {
		r.parts = append(r.parts, s.Second.geometry(s.Seed+1))
	}
	r.light = s.lighting(r.lens)
	r.boardSin, r.boardCos = math.Sincos(radians(s.Board.TurnDeg))
	r.footprint = s.Camera.DistanceMM / s.Camera.FocalPX
	return r
}

// Render draws the scene and gives its truth. It is deterministic: the same scene gives the same picture.
func (s Scene) Render() (*image.NRGBA, Truth) {
	img, _, t := s.RenderLabelled()
	return img, t
}

// RenderLabelled is Render with the class of what the centre of each pixel hits beside it.
func (s Scene) RenderLabelled() (*image.NRGBA, *image.Gray, Truth) {
	r := s.renderer()
	labels := image.NewGray(image.Rect(0, 0, s.Width, s.Height))
	film := r.expose(labels)
	return film.develop(s), labels, s.truth(r.part, r.lens)
}

// Truth gives what Render would give beside the picture, without drawing it.
func (s Scene) Truth() Truth {
	return s.truth(s.Part.geometry(s.Seed), s.Camera.lens(s.Width, s.Height))
}

// spot is what a ray meets.
type spot struct {
	at, along vec // place and the ray's direction: in the part's frame where part is set, else in the world
	normal    vec // of a slab
	what      stuff
	part      *geometry
	slab      *slab
	mass      *mass
}

// sample gives the linear colour seen at a place of the picture, and what is seen there.
func (r *renderer) sample(px, py float64) (vec, stuff) {
	h := r.hit(px, py)
	return r.colour(h), h.what
}

// hit follows the ray that is seen in the picture's (px, py).
func (r *renderer) hit(px, py float64) spot {
	d := r.lens.ray(px, py)
	at, what := r.lying(r.lens.at, d)
	best := spot{at: at, along: d, what: what}
	far := at.sub(r.lens.at).norm()
	for i := range r.slabs {
		b := &r.slabs[i]
		if at, n, what := b.meet(r.lens.at, d); what != nothing {
			best, far = spot{at: at, along: d, normal: n, what: what, slab: b}, at.sub(r.lens.at).norm()
		}
	}
	for i := range r.masses {
		m := &r.masses[i]
		if t, ok := m.march(r.lens.at, d, far); ok {
			best, far = spot{at: r.lens.at.add(d.mul(t)), along: d, what: thing, mass: m}, t
		}
	}
	for _, g := range r.parts {
		eye, local := g.pose.in(r.lens.at.sub(g.origin)), g.pose.in(d)
		if t, what := g.march(eye, local, far); what != nothing {
			best, far = spot{at: eye.add(local.mul(t)), along: local, what: what, part: g}, t
		}
	}
	return best
}

// colour is the radiance of what hit found.
func (r *renderer) colour(h spot) vec {
	at, c := h.at, vec{}
	switch {
	case h.part != nil:
		c, at = r.surface(h.part, h.at, h.along, h.what), h.part.origin.add(h.part.pose.out(h.at))
	case h.slab != nil:
		c = r.slabColour(h.slab, at, h.normal, h.along, h.what)
	case h.mass != nil:
		c = r.massColour(h.mass, at, h.along)
	default:
		c = r.flat(at, h.along, h.what)
	}
	return c.mul(r.light.faded(at))
}

// rows runs work over the picture's rows on all processors. Rows are independent, so the order does not matter.
func rows(height int, work func(y int)) {
	var wait sync.WaitGroup
	next := make(chan int, height)
	for y := range height {
		next <- y
	}
	close(next)
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for y := range next {
				work(y)
			}
		})
	}
	wait.Wait()
}

// fine and medium are the numbers of samples along each side of a pixel in which things meet, and of one in which only
// the brightness changes quickly.
const fine, medium = 4, 2

// expose samples every pixel once, and those in which something changes several times.
func (r *renderer) expose(labels *image.Gray) *film {
	w, h := r.scene.Width, r.scene.Height
	first := newFilm(w, h)
	seen := make([]stuff, w*h)
	rows(h, func(y int) {
		for x := range w {
			h := r.hit(float64(x), float64(y))
			first.set(x, y, r.colour(h).mul(r.light.gain))
			seen[y*w+x] = h.what.look()
			labels.Pix[y*labels.Stride+x] = uint8(r.class(h))
		}
	})
	out := newFilm(w, h)
	copy(out.pix, first.pix)
	rows(h, func(y int) {
		for x := range w {
			if n := first.samples(seen, x, y); n > 1 {
				if r.scene.Coarse && n == fine {
					n = fine - 1
				}
				out.set(x, y, r.average(float64(x), float64(y), n))
			}
		}
	})
	return out
}

// average takes n x n samples over a pixel.
func (r *renderer) average(x, y float64, n int) vec {
	sum := vec{}
	for j := range n {
		for i := range n {
			c, _ := r.sample(x+(float64(i)+0.5)/float64(n)-0.5, y+(float64(j)+0.5)/float64(n)-0.5)
			// A sensor's well is full at some point: a glint of many times white must not outshine its neighbours.
			c = c.mul(r.light.gain)
			sum = sum.add(vec{min(c.X, 1.6), min(c.Y, 1.6), min(c.Z, 1.6)})
		}
	}
	return sum.mul(1 / float64(n*n))
}

// samples tells how finely a pixel must be looked at, from what it and its neighbours showed at the first look.
func (f *film) samples(seen []stuff, x, y int) int {
	at := y*f.w + x
	c := f.pix[3*at+1]
	n := 1
	for j := max(0, y-1); j <= min(f.h-1, y+1); j++ {
		for i := max(0, x-1); i <= min(f.w-1, x+1); i++ {
			k := j*f.w + i
			if seen[k] != seen[at] {
				return fine
			}
			if d := f.pix[3*k+1] - c; d > 0.03+0.2*c || d < -0.03-0.2*c {
				n = medium
			}
		}
	}
	return n
}
