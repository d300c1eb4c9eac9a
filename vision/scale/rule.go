package scale

import (
	"errors"
	"fmt"
	"math"

	"gocv.io/x/gocv"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
)

// ruleSides are the long sides to which the picture is reduced in the search for a rule, in the order of trying.
var ruleSides = []float64{1400, 2800}

const (
	mostOutlineTall = 14. // mm beside the foot of the graduations that surely belong to the rule: none is narrower
	besideFootMM    = 0.3
	ruleRowsTried   = 6
	leastPitchPX    = 5.
)

// Rule finds a steel rule with graduations pitchMM apart in an upright picture (mat 8-bit BGR, grey the same in grey) and
// tells from it where the camera stood. It may lie at any turn, be partly hidden or cut by the picture's edge; some 15 mm of
// graduations in one row must be seen. The world's plane z = 0 is that of the graduations, x runs along the rule.
//
// pitchMM is 1 or 0.5, as the user declares it: a row is taken only where the lengths of its graduations show that it is
// divided so. Inches and what cannot be told are refused. The rule's own error is no part of RelU. focalPX is the focal
// length in pixels from the picture's metadata, 0 where unknown. The error is a Refusal when the picture cannot serve.
//
// How: short dark straight lines in a reduced picture (dashes), runs of parallel ones at even distances, carried on over the
// picture (findRows); the row resampled by a rough camera (unrolled), each graduation read at many heights (ticks);
// its division told by their lengths (divided); one camera fitted to all graduations (fitLines).
func Rule(mat, grey gocv.Mat, pitchMM, focalPX float64) (Reference, error) {
	if grey.Empty() || grey.Type() != gocv.MatTypeCV8UC1 {
		return Reference{}, fmt.Errorf("rule: want an 8-bit grey picture, have type %v of %d x %d px", grey.Type(), grey.Cols(), grey.Rows())
	}
	var want division
	switch pitchMM {
	case 1:
		want = wholeMM
	case 0.5:
		want = halfMM
	default:
		return Reference{}, Refusal{fmt.Sprintf("a rule with graduations %g mm apart is not known: rules are divided into 1 mm "+
			"or 0.5 mm; say --scale rule=1mm or --scale rule=0.5mm, whichever the edge in the picture has", pitchMM)}
	}
	if !grey.IsContinuous() {
		whole := grey.Clone()
		defer func() { _ = whole.Close() }()
		grey = whole
	}
	pic, err := newPlane8(grey)
	if err != nil {
		return Reference{}, fmt.Errorf("rule: %w", err)
	}
	var other error
	tried := 0.
	for _, side := range ruleSides {
		small, shrink, err := reduced(grey, side)
		if err != nil {
			return Reference{}, fmt.Errorf("rule: %w", err)
		}
		if shrink == tried {
			break
		}
		tried = shrink
		rows := findRows(small.dashes())
		for _, r := range rows[:min(len(rows), ruleRowsTried)] {
			ref, err := r.reference(pic, shrink, want, pitchMM, focalPX)
			var refusal Refusal
			switch {
			case err == nil:
				return ref, nil
			case errors.As(err, &refusal) && other == nil:
				other = err
			}
		}
		if other != nil {
			return Reference{}, other
		}
	}
	return Reference{}, noRule(grey)
}

// errNoRow is that a row of dashes is no row of graduations.
var errNoRow = errors.New("no graduations")

// reference measures a row. The error is a Refusal where it is one of graduations that cannot serve, errNoRow or another
// where it is none.
func (r row) reference(pic plane8, shrink float64, want division, pitchMM, focalPX float64) (Reference, error) {
	size := [2]int{pic.w, pic.h}
	rough, l, err := r.rough(shrink, size)
	if err != nil {
		return Reference{}, err
	}
	s, ticks := r.read(pic, rough)
	if len(ticks) < leastLengths {
		return Reference{}, errNoRow
	}
	tall, foot, footLow, ok := lengths(ticks)
	if !ok || len(tall) < leastLengths || 2*len(tall) < len(ticks) || foot.SD > offFoot {
		return Reference{}, errNoRow
	}
	is, _, ok := divided(tall)
	switch {
	case !ok:
		return Reference{}, doubtful(ticks)
	case is.name != want.name:
		return Reference{}, otherDivision(is, want)
	}
	middle := (ticks[0].k + ticks[len(ticks)-1].k) / 2
	x, y := rough.cam.Project(Vec{float64(middle), 0, 0})
	l.at = pt{x, y}
	fit, note, err := fitCamera(func(focalPX float64) (*poseFit, error) {
		return fitLines(s.evidence(ticks, middle), l, pitchMM, focalPX, size)
	}, focalPX)
	if err != nil {
		return Reference{}, err
	}
	ref := fit.reference()
	ref.GroundZMM, ref.UGroundMM = -ruleThickMM, uRuleThickMM
	if note != "" {
		ref.Notes = append(ref.Notes, note)
	}
	ref.Outline = s.outline(ticks, foot, footLow, pitchMM)
	ref.light, ref.dark = tones(ticks)
	ref.blurPX = s.blurPX(ticks, footLow)
	return ref, nil
}

// read unrolls the row as far as it lies in the picture and reads its graduations. k counts from the rough camera's origin.
func (r row) read(pic plane8, rough *poseFit) (strip, []tick) {
	var y []float64
	for _, e := range rough.seen {
		p := e.at()
		y = append(y, rough.cam.OnPlane(p.x, p.y, 0).Y)
	}
	const beyond = 3 // pitches
	y0, y1 := subpixel.Percentile(y, 4)-beyond, subpixel.Percentile(y, 96)+beyond
	low, high := visible(pic, rough.cam, -1), visible(pic, rough.cam, 1)
	s := unrolled(pic, rough.cam, low, high, y0, y1)
	return s, s.ticks(low, high)
}

const mostGraduations = 600

// visible is the last k to one side whose place on the row's middle line lies in the picture.
func visible(pic plane8, cam Camera, step int) int {
	k := 0
	for n := 0; n < mostGraduations; n++ {
		x, y := cam.Project(Vec{float64(k + step), 0, 0})
		if !pic.inside(pt{x, y}, 1) {
			break
		}
		k += step
	}
	return k
}

func doubtful(ticks []tick) error {
	return Refusal{fmt.Sprintf("the rule's graduations (%d were read) do not show whether they are millimetres: at least 2 cm of them "+
		"must be seen with their full length, so that the longer ones at 5 and 10 mm show. Lay the rule so that nothing covers them, "+
		"sharp and without glare", len(ticks))}
}

func otherDivision(is, want division) error {
	switch is.name {
	case binaryInch.name:
		return Refusal{"the rule's edge in the picture is divided into " + is.name + ", not into millimetres: turn the rule so that its " +
			"millimetre edge is seen"}
	case halfMM.name:
		return Refusal{"the rule's graduations are 0.5 mm apart, each second one longer: say --scale rule=0.5mm, or turn the rule so " +
			"that its edge with " + want.name + " is seen"}
	default:
		return Refusal{"the rule's graduations are 1 mm apart, with longer ones at 5 and 10 mm: say --scale rule=1mm, or turn the rule so " +
			"that its edge with " + want.name + " is seen"}
	}
}

// outline goes round the graduations and as much of the rule beyond them as every rule has.
func (s strip) outline(ticks []tick, foot subpixel.Line, footLow bool, pitchMM float64) []record.Point {
	longest := 0.
	for _, t := range ticks {
		longest = math.Max(longest, t.high-t.low)
	}
	tall := math.Max(longest, mostOutlineTall/pitchMM)
	beside := besideFootMM / pitchMM
	if !footLow {
		tall, beside = -tall, -beside
	}
	at := func(k int) float64 {
		return foot.Mid.Y + foot.Dir.Y/foot.Dir.X*(float64(k)-foot.Mid.X)
	}
	low, high := ticks[0].k-1, ticks[len(ticks)-1].k+1
	var out []record.Point
	for _, w := range []Vec{{float64(low), at(low) - beside, 0}, {float64(high), at(high) - beside, 0},
		{float64(high), at(high) + tall, 0}, {float64(low), at(low) + tall, 0}} {
		x, y := s.cam.Project(w)
		out = append(out, record.Point{X: x, Y: y})
	}
	return out
}

// tones are the brightness of steel and of graduations.
func tones(ticks []tick) (light, dark float64) {
	var a, b []float64
	for _, t := range ticks {
		a, b = append(a, t.steel), append(b, t.steel-t.dark*(t.steel+brightFloor))
	}
	return math.Round(median(a...)), math.Round(median(b...))
}

// blurPX is the larger of the blur along and across the row, in px of the full picture, so that shake in one direction
// counts; 0 where it cannot be read.
func (s strip) blurPX(ticks []tick, footLow bool) float64 {
	px, py := s.cam.Project(Vec{})
	along, ok := s.lineBlur(ticks)
	across, ok2 := s.edgeBlur(ticks, footLow)
	if !ok || !ok2 {
		return 0
	}
	return math.Max(along, across) / (float64(s.per) * s.cam.mmPerPX(px, py, 0))
}

// smeared is the crispness below which edges run out over so many pixels that graduations are wiped out. Pictures blurred on
// purpose by 1 % of their width lie at 0.3 to 0.5, sharp ones of a rule or a card at 0.6 to 1, one small part on an even ground
// at 0.5.
const smeared = 0.42

// noRule says why there is none: a picture without a sharp edge in some direction was shaken or is out of focus.
func noRule(grey gocv.Mat) error {
	crisp, err := crispness(grey)
	if err != nil {
		return fmt.Errorf("rule: %w", err)
	}
	if crisp < smeared {
		return Refusal{"the picture is blurred by motion or out of focus: no steel rule's graduations can be told: hold still, let the camera " +
			"focus on the rule, use more light"}
	}
	return Refusal{"no scale was found: no steel rule with graduations is seen. Lay one beside the part, its graduations uncovered, sharp " +
		"and without glare"}
}
