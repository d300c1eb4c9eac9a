package grade

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/internal/advice"
	"crimprule/internal/elsewhere"
	"crimprule/internal/site"
	"crimprule/internal/verdict"
	"crimprule/vision/record"
)

const yes, no = record.Conforms, record.DoesNotConform

func graded(t testing.TB, w *workshop, mark Mark) Report {
	r, err := Of(context.Background(), w, Options{Mark: mark})
	require.NoError(t, err)
	return r
}

// TestReport: a trainee with one of all that can happen, counted by hand.
func TestReport(t *testing.T) {
	w := newWorkshop(t)
	w.add("trainee 3", "2026-05-04", "", good, good, gap, doubtful, good, blurred, lost, gap, strays, unlimited, good)
	r := graded(t, w, UsualMark)
	require.Len(t, r.Trainees, 1)
	one := r.Trainees[0]
	assert.Equal(t, []int{11, 4, 3, 1, 2, 1}, []int{len(one.Crimps), one.Conforming, one.NotConform, one.NotProven, one.NotMeasured, one.NotJudged})
	assert.Equal(t, 4, one.Open())
	// Of 8 that were judged and measured 4 conform; the ends of the interval are those of scipy 1.10.1 for 4 of 8.
	assert.Equal(t, 8, one.Yield.Of)
	assert.InDelta(t, 0.157013, one.Yield.Low, 1e-6)
	assert.InDelta(t, 0.842987, one.Yield.High, 1e-6)
	assert.Equal(t, Row{Longest: 2, Current: 1, Possible: 4, Standing: NotReached}, one.Row)
	assert.Equal(t, 8, one.Score.Of, "what was not measured has no score")
	assert.Less(t, one.Score.Least, 40.0)
	assert.Greater(t, one.Score.Most, 70.0)

	// Two faults: the large gap in two crimps, strays in one. Mean and largest gap mean the same and are one fault; the mean's
	// own limit is not what failed. The symmetry that is not proven in one is none. Of 11 crimps two have no value, and one no
	// limits.
	require.Len(t, one.Faults, 2)
	assert.Equal(t, "gap between insulation and sleeve (largest)", one.Faults[0].Title())
	assert.Equal(t, "Fails in 2 of the 8 crimps in which it was judged.", one.Faults[0].Words())
	assert.Contains(t, one.Faults[1].Title(), "stray strands")
	assert.Empty(t, filter(one.Well, "gap"), "the mean gap is no praise beside a largest gap that failed")
	require.Len(t, one.Unshown, 1)
	assert.Equal(t, "symmetry of left and right", one.Unshown[0].Name)
	assert.Equal(t, "Not proven in 1 of the 8 crimps in which it was judged.", one.Unshown[0].Words())
	assert.Contains(t, one.Unshown[0].Shows, "closer")
	assert.Empty(t, one.Well)

	require.NotNil(t, one.Cause)
	assert.Equal(t, "the wire was stripped too long, or 3 others that explain as much (each could explain 2 of the 3 crimps that do not conform)", one.Cause.Words())
	require.NotNil(t, one.Practise)
	assert.Equal(t, "stripping", one.Practise.Name, "it belongs to the cause")
	assert.Equal(t, one.Practise.Exercise, advice.Against(one.Cause.Text))
	assert.Empty(t, one.Agreement.Words(), "no own judgement was given")
}

func filter(all []Good, part string) (found []Good) {
	for _, g := range all {
		if strings.Contains(g.Name, part) {
			found = append(found, g)
		}
	}
	return found
}

// TestRow against a second way to count, and what must hold for any crimps.
func TestRow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		results := []record.Result{yes, no, record.NotProven, record.NotMeasured, ""}
		crimps := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Crimp {
			return Crimp{Result: rapid.SampledFrom(results).Draw(t, "result"), Score: float64(rapid.IntRange(60, 100).Draw(t, "score"))}
		}), 0, 25).Draw(t, "crimps")
		mark := Mark{Row: rapid.IntRange(1, 12).Draw(t, "row"), Score: float64(rapid.SampledFrom([]int{0, 70, 90}).Draw(t, "least"))}
		longest := func(counts func(Crimp) bool) (most int) {
			for i := range crimps {
				for j := i; j < len(crimps) && counts(crimps[j]); j++ {
					most = max(most, j-i+1)
				}
			}
			return most
		}
		sure := func(c Crimp) bool { return c.Result == yes && c.Score >= mark.Score }
		r := rowOf(crimps, mark)
		if r.Longest != longest(sure) || r.Possible != longest(func(c Crimp) bool { return sure(c) || c.Result != yes && c.Result != no }) {
			t.Fatalf("%+v", r)
		}
		if r.Current > r.Longest || r.Longest > r.Possible {
			t.Fatalf("%+v", r)
		}
		if (r.Standing == Reached) != (r.Longest >= mark.Row) || (r.Standing == NotReached) != (r.Possible < mark.Row) {
			t.Fatalf("%+v for %+v", r, mark)
		}
	})
}

// TestLeastScore: a crimp that conforms with less than the mark's score is in no row.
func TestLeastScore(t *testing.T) {
	crimps := []Crimp{{Result: yes, Score: 90}, {Result: yes, Score: 75}, {Result: yes, Score: 90}}
	assert.Equal(t, 3, rowOf(crimps, Mark{3, 70}).Longest)
	assert.Equal(t, Row{1, 1, 1, NotReached}, rowOf(crimps, Mark{3, 80}))
	assert.Equal(t, "10 crimps in a row that conform", UsualMark.Words())
	assert.Equal(t, "1 crimp that conforms with 80 points or more", Mark{1, 80}.Words())
}

// TestBadPicturesHideNothing: a crimp that was not measured breaks the row, and leaves the mark open.
func TestBadPicturesHideNothing(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "", "", good, good, blurred, good)
	one := graded(t, w, Mark{Row: 4}).Trainees[0]
	assert.Equal(t, Row{2, 1, 4, Open}, one.Row)
	assert.Contains(t, one.Words(Mark{Row: 4}), "If what is not proven or not measured is good, it is 4")
	assert.Equal(t, "photographing the crimp", one.Practise.Name)
	assert.Equal(t, "hold the camera still: the picture is blurred", one.Crimps[2].Why)
	assert.Equal(t, []Photos{{"hold the camera still: the picture is blurred", []string{"bench/03.jpg"}}}, one.Photos)
}

// TestWell: features that always conform, the best margin first.
func TestWell(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "", "", good, good, strays)
	one := graded(t, w, UsualMark).Trainees[0]
	require.Len(t, one.Well, 3)
	assert.Equal(t, Good{"gap between insulation and sleeve (largest)", 3, 100, crimps}, one.Well[0])
	assert.Equal(t, "symmetry of left and right", one.Well[2].Name, "it is off its aim")
	for _, g := range one.Well {
		assert.NotContains(t, g.Name, "stray")
	}
}

// TestElsewhereCounts: a pull-out force that does not conform is a fault like any other.
func TestElsewhereCounts(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "", "", good)
	c := &w.crimps[0]
	c.Elsewhere = []site.Elsewhere{{Key: elsewhere.PullOutForce, Value: record.Value{Value: 250, U: 10, Unit: "N"}}}
	c.ElsewhereVerdict = verdict.JudgeElsewhere(c.Elsewhere, w.limits)
	c.Settle(true)
	one := graded(t, w, UsualMark).Trainees[0]
	assert.Equal(t, 1, one.NotConform)
	require.Len(t, one.Faults, 1)
	assert.Equal(t, "pull-out force", one.Faults[0].Title())
	assert.Equal(t, "check wire, contact and tool with the trainer", one.Practise.Name)
}

// TestAgreement: the counts of the study of attributes in the handbook of measurement systems analysis of the motor
// industry, appraiser A against the reference (from memory; published kappa 0.88).
func TestAgreement(t *testing.T) {
	var table ownTable
	for _, c := range []struct {
		n            int
		own, program record.Result
	}{{45, no, no}, {5, no, yes}, {3, yes, no}, {97, yes, yes}, {4, yes, record.NotProven}, {1, no, record.NotMeasured}, {2, "", yes}, {1, "fine", yes}} {
		for range c.n {
			table.take("a", c.own, c.program, false)
		}
	}
	a := table.agreement()
	require.NotNil(t, a.Kappa)
	assert.InDelta(t, 0.88, *a.Kappa, 0.005)
	assert.InDelta(t, 0.041641, *a.StandardError, 1e-6, "delta method in numpy")
	assert.Equal(t, []int{97, 45, 3, 5, 5, 3, 150}, []int{a.BothGood, a.BothBad, a.TooKind, a.TooHard, a.LeftOut, a.NoOwn, a.Both()})
	assert.Equal(t, "Both judged 150 crimps, 142 alike. Cohen's kappa, which takes off what chance alone would give, is 0.88 (standard error 0.04): "+
		"good agreement (above 0.75 it is called good, below 0.40 poor). 3 crimps were passed as good, and do not conform: look at them together. "+
		"5 crimps were held for bad, and conform. 5 crimps are left out: the program could not prove or measure them.", a.Words())
}

func TestAgreementThatCannotBeTold(t *testing.T) {
	w := newWorkshop(t)
	w.add("always good", "", yes, good, good)
	w.add("never sure", "", yes, doubtful)
	w.add("silent", "", "", good)
	w.add("too kind", "", yes, good, gap)
	r := graded(t, w, UsualMark)
	always, never, silent := r.Trainees[0].Agreement, r.Trainees[1].Agreement, r.Trainees[2].Agreement
	assert.Nil(t, always.Kappa)
	assert.Contains(t, always.Words(), "Both judged 2 crimps, 2 alike. Cohen's kappa cannot be given: both gave the same judgement")
	assert.Equal(t, "No crimp was judged by both. 1 crimp is left out: the program could not prove or measure it.", never.Words())
	assert.Empty(t, silent.Words())
	assert.Equal(t, "-", silent.KappaText())
	kind := r.Trainees[3].Agreement
	require.NotNil(t, kind.Kappa)
	assert.Zero(t, *kind.Kappa, "who passes everything agrees by chance only")
}

// TestNames: by folder where nothing else is said, in the order in which people look names up, the unnamed last.
func TestNames(t *testing.T) {
	w := newWorkshop(t)
	for _, name := range []string{"trainee 10", "", "trainee 9", "Zoë", "Ärmel", "nur Draht"} {
		w.add(name, "", "", good)
	}
	w.crimps[1].Pictures[0].File = "x.jpg"
	w.add("", "", "", good)
	w.crimps[6].Pictures[0].File = "trainee 2/day 1/x.jpg"
	var names []string
	for _, one := range graded(t, w, UsualMark).Trainees {
		names = append(names, one.Called())
	}
	assert.Equal(t, []string{"Ärmel", "nur Draht", "trainee 2", "trainee 9", "trainee 10", "Zoë", "(no trainee named)"}, names)
	assert.Empty(t, TraineeOf(site.Crimp{}))
}

// TestJSON: a program can read the report.
func TestJSON(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, graded(t, twelve(t), UsualMark).WriteJSON(&b))
	var back struct {
		Mark     Mark
		Trainees []struct {
			Name  string
			Row   Row
			Yield Yield
		}
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &back))
	assert.Equal(t, UsualMark, back.Mark)
	assert.Len(t, back.Trainees, 6)
	for _, list := range []string{"trainees", "crimps", "done_well", "faults", "progress"} {
		assert.False(t, bytes.Contains(b.Bytes(), []byte(`"`+list+`": null`)), "an empty list is [], not null: %s", list)
	}
}
