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
	roughlyOff      = 0.05 // of a pitch that dashes may scatter about their lattice
	doubtfulRow     = 20   // even lines that are worth a word though they are divided like no rule
)

// Rule finds a steel rule in an upright picture (mat 8-bit BGR, grey the same in grey) and tells from it where the camera
// stood. It may lie at any turn, be partly hidden or cut by the picture's edge; some 15 mm of graduations in one row must
// be seen. The world's plane z = 0 is that of the graduations, x runs along the rule.
//
// pitchMM is 1 or 0.5, as the user declares it. What a row's graduations are is told from their lengths and never
// from the declaration: of a rule with several rows the one that is declared is used, else one of whole or half
// millimetres with a note; inches and what cannot be told are refused. The rule's own error is no part of RelU. focalPX is the
// focal length in pixels from the picture's metadata, 0 where unknown. The error is a Refusal when the picture cannot serve.
//
// How: short dark straight lines in a reduced picture (dashes), runs of parallel ones at even distances, carried on over the
// picture (findRows); the row resampled by a rough camera (unrolled), each graduation read at many heights (ticks);
// its division told by their lengths (divided); one camera fitted to all graduations (fitLines).
func Rule(mat, grey gocv.Mat, pitchMM, focalPX float64) (Reference, error) {
	if grey.Empty() || grey.Type() != gocv.MatTypeCV8UC1 {
		return Reference{}, fmt.Errorf("rule: want an 8-bit grey picture, have type %v of %d x %d px", grey.Type(), grey.Cols(), grey.Rows())
	}
	if pitchMM != wholeMM.stepMM && pitchMM != halfMM.stepMM {
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
	s := ruleSearch{pic: pic, pitchMM: pitchMM, focalPX: focalPX}
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
		if ref, ok := s.among(findRows(small.dashes()), shrink); ok {
			return ref, nil
		}
	}
	if s.refusal != nil {
		return Reference{}, s.refusal
	}
	return Reference{}, noneFound(grey, "steel rule", noRule)
}

// ruleSearch is the search for a rule in one picture.
type ruleSearch struct {
	pic              plane8
	pitchMM, focalPX float64
	refusal          error // what was seen so far that is a rule and cannot serve
}

// among measures rows until one is divided as declared; another metric one is the second choice.
func (s *ruleSearch) among(rows []row, shrink float64) (Reference, bool) {
	var second *Reference
	for _, r := range rows[:min(len(rows), ruleRowsTried)] {
		ref, is, err := s.measure(r, shrink)
		var refusal Refusal
		switch {
		case err == nil && is.stepMM == s.pitchMM:
			return ref, true
		case err == nil && second == nil:
			ref.Notes = append(ref.Notes, fmt.Sprintf("the rule's graduations in the picture are %g mm apart, not %g mm as declared, as "+
				"their lengths show: they are taken for what they are", is.stepMM, s.pitchMM))
			second = &ref
		case errors.As(err, &refusal) && s.refusal == nil:
			s.refusal = err
		}
	}
	if second != nil {
		return *second, true
	}
	return Reference{}, false
}

// errNoRow is that a row of dashes is no row of graduations.
var errNoRow = errors.New("no graduations")

// measure measures a row. The error is a Refusal where it is one of graduations that cannot serve, another where it is none.
func (s *ruleSearch) measure(r row, shrink float64) (ref Reference, is division, err error) {
	size := [2]int{s.pic.w, s.pic.h}
	rough, l, err := r.rough(shrink, size)
	if err != nil || rough.sigma > roughlyOff*l.next.norm() {
		return ref, is, errNoRow
	}
	st, ticks := r.read(s.pic, rough)
	if len(ticks) < leastLengths {
		return ref, is, errNoRow
	}
	tall, foot, footLow, ok := lengths(ticks)
	if !ok || len(tall) < leastLengths || 2*len(tall) < len(ticks) {
		return ref, is, errNoRow
	}
	is, _, ok = divided(tall)
	if !ok || is.stepMM == 0 {
		return ref, is, undecided(is, ok, ticks)
	}
	middle := (ticks[0].k + ticks[len(ticks)-1].k) / 2
	l.at.x, l.at.y = rough.cam.Project(Vec{float64(middle), foot.Mid.Y, 0})
	fit, note, err := fitCamera(func(focalPX float64) (*poseFit, error) {
		return fitLines(st.evidence(ticks, middle), l, is.stepMM, focalPX, size)
	}, s.focalPX)
	if err != nil {
		return ref, is, err
	}
	ref = fit.reference()
	ref.GroundZMM, ref.UGroundMM = -ruleThickMM, uRuleThickMM
	if note != "" {
		ref.Notes = append(ref.Notes, note)
	}
	ref.Outline = st.outline(ticks, foot, footLow, is.stepMM)
	ref.light, ref.dark = tones(ticks)
	ref.blurPX = st.blurPX(ticks, footLow)
	return ref, is, nil
}

// read unrolls the row as far as it lies in the picture and reads its graduations. k counts from the rough camera's origin.
func (r row) read(pic plane8, rough *poseFit) (strip, []tick) {
	var y []float64
	for _, e := range rough.seen {
		p := e.at()
		y = append(y, rough.cam.OnPlane(p.x, p.y, 0).Y)
	}
	const tallest = 34 // pitches; half millimetres reach 20
	y0, y1 := subpixel.Percentile(y, 4), subpixel.Percentile(y, 96)
	beyond := 3 + y1 - y0 // either end may be the free one, and the longest are few
	y0, y1 = y0-beyond, y1+beyond
	if middle := (y0 + y1) / 2; y1-y0 > tallest {
		y0, y1 = middle-tallest/2, middle+tallest/2
	}
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

// undecided is why a row that may be one of graduations is not used.
func undecided(is division, ok bool, ticks []tick) error {
	if ok {
		return Refusal{"the rule's edge in the picture is divided into " + is.name + ", not into millimetres: turn the rule so that its " +
			"millimetre edge is seen"}
	}
	if span := ticks[len(ticks)-1].k - ticks[0].k + 1; len(ticks) < doubtfulRow || 10*len(ticks) < 7*span {
		return errNoRow // any comb
	}
	return Refusal{fmt.Sprintf("no scale can be told: there is a row of %d even lines, but their lengths do not show whether they are a rule's "+
		"millimetres: at least 2 cm of graduations must be seen with their full length, so that the longer ones at 5 and 10 mm "+
		"show. Lay the rule so that nothing covers them, sharp and without glare", len(ticks))}
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

const noRule = "no scale was found: no steel rule with graduations is seen. Lay one beside the part, its graduations uncovered, sharp " +
	"and without glare"
