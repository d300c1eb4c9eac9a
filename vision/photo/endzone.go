package photo

import (
	"math"
	"slices"

	"crimprule/vision/subpixel"
)

const (
	zoneBinMM   = 0.1
	zoneMostMM  = 2.6  // further behind strands are cut short, which is told elsewhere
	zoneUsualMM = 5.0  // up to here the strands' pattern shows how much it changes where none ends
	zoneChange  = 4.0  // times the mean square change where none ends
	zoneFaint   = 0.25 // of the change that one strand's end makes among those beside it: less is none
	zoneTurnMM  = 1.2  // nearer to the front line its own border turns what is seen of the strands' direction
)

// endZone is over what depth behind the front line strands on top are seen to end, mm. Seen from above a bundle shows ridges
// that run on along the strands; where a strand on top ends, its ridge gives way to what lies below. So the brightness is
// compared with itself half a strand's width further along: behind the zone in which strands end it stays the same but for
// noise, glints and dirt, and these set the measure. The front line alone cannot tell how far apart strands end: a
// ragged bundle's foremost strands hide the gaps between them and end evenly enough.
func (b *bench) endZone(c bareSides, f frontLine) float64 {
	mean, _, _ := f.steady()
	lo, hi := f.y[0], f.y[len(f.y)-1]
	g := b.strandGrid(mean-zoneUsualMM-1, mean+1.5, lo-0.3, hi+0.3)
	g.keepTurn(mean - zoneTurnMM)
	clear := 0.3 * b.strandMM() // off the bundle's own sides
	var reliefs []float64
	var square, n [int(zoneUsualMM / zoneBinMM)]float64
	for k := range g.ln.Pix {
		i, j := k%g.ln.W, k/g.ln.W
		x, y := g.X(float64(i)), g.Y(float64(j))
		bin := int(math.Floor((f.at(y) - x) / zoneBinMM))
		if bin < 0 || bin >= len(n) || y < lo || y > hi {
			continue
		}
		if left, right := c.near(x); y < left-clear && y > right+clear {
			square[bin] += sq(g.mean(i, j, cutBeforeFrom, cutBeforeTo, 0) - g.mean(i, j, -cutBeforeTo, -cutBeforeFrom, 0))
			n[bin]++
			if float64(bin)*zoneBinMM >= zoneMostMM {
				reliefs = append(reliefs, math.Abs(g.relief(i, j)))
			}
		}
	}
	var usual []float64
	for bin := range n {
		square[bin] /= math.Max(1, n[bin])
		if float64(bin)*zoneBinMM >= zoneMostMM && n[bin] > 0 {
			usual = append(usual, square[bin])
		}
	}
	if len(usual) < 5 {
		return math.NaN()
	}
	one := sq(subpixel.Percentile(reliefs, 50)) * b.strandMM() / (hi - lo)
	zone, limit := 0.0, math.Max(zoneFaint*one, zoneChange*subpixel.Percentile(usual, 50))
	for bin := range int(zoneMostMM / zoneBinMM) {
		if square[bin] > limit {
			zone += zoneBinMM
		}
	}
	return zone
}

// keepTurn lets strands run on beyond x in the direction that they have there.
func (g *strandGrid) keepTurn(x float64) {
	w := g.turn.W
	last := max(0, min(w-1, int((x-g.X(0))*cutsPPM)))
	for j := range g.turn.H {
		for i := last + 1; i < w; i++ {
			g.turn.Pix[j*w+i] = g.turn.Pix[j*w+last]
		}
	}
}

// at is the front line's x on the scan line nearest to y.
func (f frontLine) at(y float64) float64 {
	k, _ := slices.BinarySearch(f.y, y)
	if k == len(f.y) || k > 0 && y-f.y[k-1] < f.y[k]-y {
		k--
	}
	return f.x[k]
}

// zoneOf is endZone of a drawn bundle: strands that end at x, with their middles at y and z, of which a share shows its end.
func zoneOf(x, y, z []float64, strandMM float64, shows func() bool) float64 {
	var ended [int(zoneMostMM / zoneBinMM)]bool
	for k := range x {
		front, covered := x[k], false
		for i := range x {
			if math.Abs(y[i]-y[k]) < strandMM/2 && x[i] > x[k] {
				front = math.Max(front, x[i])
				covered = covered || z[i] > z[k]
			}
		}
		if covered || !shows() {
			continue
		}
		from, to := (front-x[k]-strandMM/2)/zoneBinMM, (front-x[k]+strandMM/2)/zoneBinMM
		for bin := max(0, int(from)); bin < min(len(ended), int(to)); bin++ {
			ended[bin] = true
		}
	}
	zone := 0.0
	for _, e := range ended {
		if e {
			zone += zoneBinMM
		}
	}
	return zone
}
