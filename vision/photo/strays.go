package photo

import (
	"math"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

// strays counts the strands outside the sleeve and measures the longest: they are what the regions show of them, wherever they
// lie, beside the part, over it or in a shadow. A strand that stays within the outline by more than its own width is none,
// and one that does not begin near the outline is something else on the ground.
func (b *bench) strays(s sleeve) {
	shape := strayShape{
		cut: b.cutX, rear: math.Max(s.rearX, b.cutX), front: s.frontX, wire: b.part.WireMM / 2, bundle: b.body.bundle,
		left: s.left.at, right: s.right.at,
	}
	found, doubtful := shape.strays(b.strayPaths(), b.body.strand)
	b.set(record.StrayCount, float64(len(found)), uncertainty.Budget{
		{Name: "definition", Source: "something that may be a strand or not", Standard: math.Min(1, float64(doubtful)) / uncertainty.CoverageFactor},
	})
	b.longestStray(found, doubtful)
	for _, f := range found {
		m := record.Mark{Kind: record.MarkStray, Key: record.StrayCount}
		for _, p := range f.course() {
			m.Points = append(m.Points, b.frame.Pixel(p.X, p.Y, 0))
		}
		b.rec.Marks = append(b.rec.Marks, m)
	}
}

// longestStray notes the longest, from root to tip. Where none was found, one that reaches less than about a strand's
// width beyond the outline would have been missed.
func (b *bench) longestStray(found []stray, doubtful int) {
	if len(found) == 0 && doubtful > 0 {
		b.rec.Miss(record.StrayLongest, "something beside the part may be a stray strand or not: use a plain ground and soft light")
		return
	}
	budget := uncertainty.Budget{{Name: "seen", Source: "what hides behind the outline's own edge: a strand's width", Standard: 0.5 * b.body.strand}}
	longest := 0.0
	for _, f := range found {
		if f.length() > longest {
			longest = f.length()
			budget = uncertainty.Budget{
				{Name: "tip", Source: "where the stripe ends", Standard: f.uTip(b)},
				{Name: "root", Source: "where the hidden part begins, and that its course may be curved", Standard: math.Hypot(0.2*f.hidden, uRootMM)},
				{Name: "climb", Source: "rise out of the picture's plane", Standard: uClimb * longest},
			}
		}
	}
	b.set(record.StrayLongest, longest, budget)
}

// stray is a strand outside the part, from its root to its tip.
type stray struct {
	path   []subpixel.Point // mm, as seen, from where it comes into sight to its tip
	root   subpixel.Point   // where it most likely leaves the conductor or the brush
	seen   float64          // length of the path
	hidden float64          // from the root to the path, straight
	share  float64          // how much speaks for it
}

// A stray rises or falls out of the picture's plane, and where it rises it is nearer to the lens: both nearly cancel, and u
// holds the rest.
const (
	uClimb  = 0.035
	uRootMM = 0.1
)

func (s stray) length() float64 { return s.hidden + s.seen }

// course is the polyline from root to tip.
func (s stray) course() []subpixel.Point { return append([]subpixel.Point{s.root}, s.path...) }

func (s stray) tip() subpixel.Point { return s.path[len(s.path)-1] }

// uTip is the standard uncertainty of where the tip is: where the regions end there, it may lie anywhere beyond.
func (s stray) uTip(b *bench) float64 {
	const rimMM, beyondMM = 0.3, 0.5
	r := b.part.Regions
	t := s.tip()
	x, y := r.Frame.Local(b.frame.World(t.X, t.Y, 0))
	i, j := (x-r.X0)*r.PPM, (r.Y0-y)*r.PPM
	w, h := float64(r.Prob[0].W), float64(r.Prob[0].H)
	if rim := rimMM * r.PPM; i < rim || j < rim || i > w-rim || j > h-rim {
		return beyondMM
	}
	return b.body.strand / 3
}

const (
	strayMeetsMM  = 0.9 // stretches of one strand are this far apart at most
	strayLeastMM  = 0.6 // shorter ones are spots
	strayNearMM   = 0.5 // a strand comes into sight within this of the outline, or hidden by less than it shows
	straySureMean = 0.6 // mean share that leaves no doubt
)

// strays joins stretches of one strand, finds their roots and keeps what leaves the outline by more than a strand's width;
// doubtful counts what may be a strand or may not.
func (p strayShape) strays(paths []strayPath, strandMM float64) (found []stray, doubtful int) {
	for _, q := range p.joined(paths) {
		s := p.rooted(q)
		reach := 0.0
		for _, v := range s.path {
			reach = math.Max(reach, p.beyond(v))
		}
		switch {
		case reach < strandMM || s.seen < strayLeastMM:
		case p.beyond(s.path[0]) > strayNearMM:
			if s.share > straySureMean && s.seen > 2*strayLeastMM {
				doubtful++
			}
		case s.share < straySureMean && s.seen < 2*strayLeastMM:
			doubtful++
		default:
			found = append(found, s)
		}
	}
	return found, doubtful
}

// rooted turns a path so that it begins at the end nearer to a place where strands can leave the part, and finds that place.
func (p strayShape) rooted(q strayPath) stray {
	const rootAt = 0.75 // of the half width: anywhere on the conductor's upper half
	way := q.points
	n := len(way) - 1
	if a, z := p.nearestRoot(way[0], 1), p.nearestRoot(way[n], 1); apart(way[n], z) < apart(way[0], a) {
		way = reversed(way)
	}
	s := stray{path: way, seen: q.length(), share: q.share, root: p.nearestRoot(way[0], rootAt)}
	s.hidden = apart(s.root, way[0])
	return s
}

// joined puts stretches together that continue each other: something hides a strand in between.
func (p strayShape) joined(paths []strayPath) []strayPath {
	for i := 0; i < len(paths); i++ {
		for j := 0; j < len(paths); j++ {
			if i == j {
				continue
			}
			a, c := p.rooted(paths[i]), p.rooted(paths[j])
			if apart(a.tip(), c.path[0]) < strayMeetsMM && c.hidden > a.hidden && onwards(a.path, c.path) {
				n := float64(len(a.path) + len(c.path))
				both := strayPath{points: append(append([]subpixel.Point{}, a.path...), c.path...),
					share: (a.share*float64(len(a.path)) + c.share*float64(len(c.path))) / n}
				paths = append(without(paths, i, j), both)
				i = -1
				break
			}
		}
	}
	return paths
}

// onwards tells whether the way from a's end to c's beginning does not turn back: within 60 degrees of how a ends.
func onwards(a, c []subpixel.Point) bool {
	from := a[max(0, len(a)-8)]
	ux, uy := a[len(a)-1].X-from.X, a[len(a)-1].Y-from.Y
	vx, vy := c[min(len(c)-1, 7)].X-a[len(a)-1].X, c[min(len(c)-1, 7)].Y-a[len(a)-1].Y
	return ux*vx+uy*vy > 0.5*math.Hypot(ux, uy)*math.Hypot(vx, vy)
}

func without(paths []strayPath, i, j int) (out []strayPath) {
	for k, p := range paths {
		if k != i && k != j {
			out = append(out, p)
		}
	}
	return out
}

func reversed(p []subpixel.Point) []subpixel.Point {
	out := make([]subpixel.Point, len(p))
	for k, q := range p {
		out[len(p)-1-k] = q
	}
	return out
}
