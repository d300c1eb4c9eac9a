package scale

import (
	"math"

	"crimprule/vision/subpixel"
)

// division is how the graduations of a rule are grouped by their length. Rules are ruled so that counting is easy; the usual
// groupings are common practice (metric: longer at 5 and 10 mm; inches: halves, quarters, eighths, sixteenths).
type division struct {
	name   string
	stepMM float64 // from one to the next; 0 where several fit
	period int
	rank   func(i int) int // 0 the shortest, at place i of the period
	ranks  int
}

var (
	wholeMM = division{"millimetres", 1, 10, func(i int) int { return pick(i%10 == 0, 2, pick(i%5 == 0, 1, 0)) }, 3}
	halfMM  = division{"half millimetres", 0.5, 20, func(i int) int {
		return pick(i%20 == 0, 3, pick(i%10 == 0, 2, pick(i%2 == 0, 1, 0)))
	}, 4}
	binaryInch = division{"halves, quarters and eighths of an inch", 0, 32, func(i int) int {
		n := 0
		for i %= 32; n < 5 && i%2 == 0; i /= 2 {
			n++
		}
		return n
	}, 6}
)

func pick[T any](is bool, yes, no T) T {
	if is {
		return yes
	}
	return no
}

// lengthAt is how far a graduation reaches beyond the row's foot line, in pitches.
type lengthAt struct {
	k    int
	tall float64
}

// fit is how well a division explains the lengths: the mean deviation from each rank's median beyond reading, for the best
// place of the long ones, and the medians. ok is false where a higher rank is shorter.
type divisionFit struct {
	off    float64
	origin int // a k of the longest kind
	ok     bool
	tall   []float64 // median of each rank, NaN where none was seen
	count  []int
}

const evenTall = 0.15 // pitches: kinds of one length, as the halves and wholes on some rules, read so much apart

const (
	readTall = 0.2 // pitches: lengths are read no better
	mostOff  = 1.  // pitches: what lies off more (cut by a shadow, grown into a numeral) counts no more than this
)

// astray is how far a length is off beyond what reading may do.
func astray(off float64) float64 { return math.Min(mostOff, math.Max(0, math.Abs(off)-readTall)) }

func (d division) fit(lengths []lengthAt) divisionFit {
	best := divisionFit{off: math.Inf(1)}
	for origin := range d.period {
		f := divisionFit{origin: origin, ok: true, tall: make([]float64, d.ranks), count: make([]int, d.ranks)}
		by := make([][]float64, d.ranks)
		rank := func(k int) int { return d.rank(((k-origin)%d.period + d.period) % d.period) }
		for _, l := range lengths {
			by[rank(l.k)] = append(by[rank(l.k)], l.tall)
		}
		last := math.Inf(-1)
		for r, tall := range by {
			f.tall[r], f.count[r] = subpixel.Percentile(tall, 50), len(tall)
			if len(tall) > 0 {
				f.ok = f.ok && f.tall[r] > last-evenTall
				last = f.tall[r]
			}
		}
		for _, l := range lengths {
			f.off += astray(l.tall-f.tall[rank(l.k)]) / float64(len(lengths))
		}
		if f.ok && f.off < best.off {
			best = f
		}
	}
	return best
}

const (
	leastLengths = 11   // graduations whose length was read: at least two of the longer kinds of a metric rule
	clearerBy    = 0.55 // the mean deviation left by the true division is at most this share of any other's
	leastRival   = 0.03 // and that is at least this much, in pitches
	leastStep    = 0.35 // pitches by which the longer ones are longer
)

// divided tells how a row is divided. ok is false where that cannot be told.
func divided(lengths []lengthAt) (d division, f divisionFit, ok bool) {
	if len(lengths) < leastLengths {
		return d, f, false
	}
	all := []division{wholeMM, halfMM, binaryInch}
	fits := make([]divisionFit, len(all))
	for i, d := range all {
		fits[i] = d.fit(lengths)
	}
	best := 0
	for i := range fits {
		if fits[i].off < fits[best].off {
			best = i
		}
	}
	f = fits[best]
	// one length for all: what no division explains
	var plain, tall []float64
	for _, l := range lengths {
		tall = append(tall, l.tall)
	}
	middle := subpixel.Percentile(tall, 50)
	for _, t := range tall {
		plain = append(plain, astray(t-middle))
	}
	rival := mean(plain)
	for i := range fits {
		if i != best {
			rival = math.Min(rival, fits[i].off)
		}
	}
	return all[best], f, f.ok && rival > leastRival && f.off < clearerBy*rival && f.stepped()
}

// stepped tells whether the longer kinds are clearly longer and were seen often enough.
func (f divisionFit) stepped() bool {
	longer := 0
	for r := 1; r < len(f.tall); r++ {
		if f.count[r] > 0 && f.tall[r]-f.tall[0] > leastStep {
			longer += f.count[r]
		}
	}
	return longer >= 3 && f.count[0] > 0
}

func mean(v []float64) float64 {
	sum := 0.
	for _, x := range v {
		sum += x
	}
	return sum / math.Max(1, float64(len(v)))
}

// lengths gives each graduation's length over the row's foot line, and tells at which end the foot is. The foot is the end at
// which the graduations begin on one straight line, the rule's edge or one beside it. Those that do not begin there
// (covered, cut by a reflection) are left out.
func lengths(ticks []tick) (out []lengthAt, foot subpixel.Line, footLow bool, ok bool) {
	var low, high []subpixel.Point
	for _, t := range ticks {
		if t.cut {
			continue
		}
		low = append(low, subpixel.Point{X: float64(t.k), Y: t.low})
		high = append(high, subpixel.Point{X: float64(t.k), Y: t.high})
	}
	a, errA := subpixel.FitLineRobust(low)
	b, errB := subpixel.FitLineRobust(high)
	if errA != nil || errB != nil {
		return nil, foot, false, false
	}
	footLow = spreadAbout(a, low) < spreadAbout(b, high)
	foot = a
	if !footLow {
		foot = b
	}
	for _, t := range ticks {
		if t.cut {
			continue
		}
		from, tall := subpixel.Point{X: float64(t.k), Y: t.low}, t.high-t.low
		if !footLow {
			from.Y = t.high
		}
		if math.Abs(foot.Distance(from)) <= offFoot {
			out = append(out, lengthAt{t.k, tall})
		}
	}
	return out, foot, footLow, true
}

const offFoot = 0.45 // pitches from the foot line

// spreadAbout is the mean distance from a line, each counted up to mostOff: many longer graduations tell, few covered ones do
// not.
func spreadAbout(l subpixel.Line, points []subpixel.Point) float64 {
	sum := 0.
	for _, p := range points {
		sum += math.Min(mostOff, math.Abs(l.Distance(p)))
	}
	return sum / float64(len(points))
}
