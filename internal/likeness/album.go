package likeness

import (
	"cmp"
	"math"
	"slices"

	"crimprule/vision/record"
)

// Album finds, among many pictures, those that are one. Each picture is compared with the first ones of all that it holds.
type Album struct {
	// Small gives the miniature of a picture by the name under which it was added.
	Small func(name string) ([]byte, error)

	pages []page
	pixel map[string]string // the name of the first picture with these pixels
	quick map[string]grey   // shrunk miniatures of pages that were looked at closely
}

// page is what is kept of a picture: little, since ten thousand of them are compared with one another.
type page struct {
	name   string
	view   record.View
	pixels string
	tiny   []byte
	rings  [rings]float32
	values [len(told)]span
}

// span is a value with its u; none where u is 0.
type span struct{ value, u float32 }

// told are the measurands by which pictures are told apart before anything else is compared: a copy has the values of its
// original. Those that mirroring swaps are not among them. Sections have none: their scale may be declared by the pixel.
var told = [...]record.Key{record.SleeveLength, record.SleeveWidth, record.InsulationGapMean, record.BrushMean, record.BrushMax, record.Bend,
	record.BellmouthLength, record.BellmouthFlare, record.Symmetry, record.StripLength, record.Splay, record.InsulationCutAngle}

// Told leaves of a record's values those that Album needs.
func Told(values map[record.Key]record.Value) map[record.Key]record.Value {
	few := make(map[record.Key]record.Value, len(told))
	for _, key := range told {
		if v, has := values[key]; has {
			few[key] = v
		}
	}
	return few
}

const (
	// mostApart, in units of u, is how far two values of one picture lie apart; of four one may lie further. In re-saved
	// copies of seven photos the upper quartile was 0.94 at most, and 0.66 at most where they were not mirrored.
	mostApart = 0.95
	rings     = 6
	// ringApart, in standard deviations of the picture, is how far the mean tones of rings about the middle lie apart, which no
	// turning and no mirroring changes.
	ringApart = 0.3
	// quickSide and quickBlock, px, are those of the first comparison by sight, mostQuick what may be left there; mostLeft is
	// what may be left of the miniatures: copies left 1.5 at most, other crimps in the same place 3.0 at least (DEVELOPERS.md, "When a
	// picture is a copy", has the figures).
	quickSide, quickBlock, mostQuick = 64, 8, 1.7
	smallBlock, mostLeft             = 16, 1.5
)

// Find gives the first picture that this one is a copy of, and whether their pixels are equal to the last; false where there
// is none, and then this one is added. The record is that of the picture, and has values.
func (a *Album) Find(name string, look Look, rec record.Record) (first string, equal, found bool, err error) {
	p := newPage(name, look, rec)
	if first, known := a.pixel[p.pixels]; known {
		return first, true, true, nil
	}
	for _, i := range a.nearest(&p) {
		same, err := a.same(&a.pages[i], &p)
		if err != nil || same {
			return a.pages[i].name, false, same, err
		}
	}
	a.add(p)
	return "", false, false, nil
}

func (a *Album) add(p page) {
	if a.pixel == nil {
		a.pixel = map[string]string{}
	}
	a.pages, a.pixel[p.pixels] = append(a.pages, p), p.name
}

// Add adds a picture that is known to be the first of its kind.
func (a *Album) Add(name string, look Look, rec record.Record) {
	a.add(newPage(name, look, rec))
}

func newPage(name string, look Look, rec record.Record) page {
	p := page{name: name, view: rec.View, pixels: look.Pixels, tiny: look.Tiny}
	if rec.View != record.Section {
		for i, key := range told {
			v := rec.Measured[key]
			p.values[i] = span{float32(v.Value), float32(v.U)}
		}
	}
	t := p.picture()
	var m moments
	var sum, n [rings]float64
	for i, v := range t.Pix {
		m.add(float64(v), 0)
		x, y := float64(i%coarse)-(coarse-1)/2.0, float64(i/coarse)-(coarse-1)/2.0
		ring := min(int(math.Hypot(x, y)/(coarse/2)*rings), rings-1)
		sum[ring] += float64(v)
		n[ring]++
	}
	variance, _, _ := m.variances()
	for i := range sum {
		p.rings[i] = float32((sum[i]/n[i] - m.a/m.n) / math.Sqrt(max(variance, 1)))
	}
	return p
}

func (p *page) picture() grey {
	g := newGrey(coarse, coarse)
	for i := range min(len(p.tiny), len(g.Pix)) {
		g.Pix[i] = float32(p.tiny[i])
	}
	return g
}

// Of the pictures whose values are near, only the mostNear nearest are looked at, and the mostClose nearest of those that
// look alike at first sight are compared closely: so the time that a picture takes hardly grows with the number of pictures.
const mostNear, mostClose = 12, 3

// nearest gives the pages that are worth a close look, the nearest first.
func (a *Album) nearest(p *page) []int {
	type candidate struct {
		page int
		far  float64
	}
	var best []candidate
	for i := range a.pages {
		far, near := a.pages[i].near(p)
		if !near || len(best) == mostNear && far >= best[mostNear-1].far {
			continue
		}
		at, _ := slices.BinarySearchFunc(best, far, func(c candidate, far float64) int { return cmp.Compare(c.far, far) })
		best = slices.Insert(best, at, candidate{i, far})
		best = best[:min(len(best), mostNear)]
	}
	var places []int
	for _, c := range best {
		if len(places) < mostClose && alikeTurned(a.pages[c.page].picture(), p.picture()) {
			places = append(places, c.page)
		}
	}
	return places
}

// alikeTurned tells whether two coarse pictures go together in one of the eight ways to turn and mirror one.
func alikeTurned(a, b grey) bool {
	for way := range 8 {
		if correlation(a, b.turned(way)) >= leastCoarse {
			return true
		}
	}
	return false
}

// near tells whether a look at both pictures is worth while, and how far apart they are: the mean of the values' distances in
// units of u and of the rings' in units of ringApart.
func (p *page) near(o *page) (far float64, near bool) {
	if p.view != o.view {
		return 0, false
	}
	n := 0
	for i, v := range p.rings {
		d := math.Abs(float64(v - o.rings[i]))
		if d > ringApart {
			return 0, false
		}
		far += d / ringApart
		n++
	}
	common, wrong := 0, 0
	for i, v := range p.values {
		w := o.values[i]
		if v.u <= 0 || w.u <= 0 {
			continue
		}
		common++
		d := math.Abs(float64(v.value-w.value)) / float64(max(v.u, w.u))
		if d > mostApart {
			wrong++
		}
		far += d
		n++
	}
	return far / float64(n), 4*wrong <= common
}

// same compares two pictures by sight.
func (a *Album) same(p, q *page) (bool, error) {
	pq, err := a.quickOf(p)
	if err != nil {
		return false, err
	}
	qq, err := a.quickOf(q)
	if err != nil || !(difference(pq, qq, quickBlock) <= mostQuick) {
		return false, err
	}
	ps, err := a.miniature(p)
	if err != nil {
		return false, err
	}
	qs, err := a.miniature(q)
	return err == nil && difference(ps, qs, smallBlock) <= mostLeft, err
}

func (a *Album) miniature(p *page) (grey, error) {
	small, err := a.Small(p.name)
	if err != nil {
		return grey{}, err
	}
	return miniature(small)
}

// mostQuickKept pictures of quickSide x quickSide px need 16 MB.
const mostQuickKept = 1000

func (a *Album) quickOf(p *page) (grey, error) {
	if g, known := a.quick[p.name]; known {
		return g, nil
	}
	g, err := a.miniature(p)
	if err != nil {
		return grey{}, err
	}
	if a.quick == nil || len(a.quick) >= mostQuickKept {
		a.quick = map[string]grey{}
	}
	a.quick[p.name] = g.shrunk(quickSide, quickSide)
	return a.quick[p.name], nil
}
