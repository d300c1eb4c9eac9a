package terminal

import (
	"bytes"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"crimprule/internal/advice"
	"crimprule/internal/grade"
	"crimprule/vision/record"
)

// TestGrade: what a trainer reads of two trainees, one of whom has an odd name.
func TestGrade(t *testing.T) {
	kappa, standard := 0.62, 0.2
	r := grade.Report{Mark: grade.Mark{Row: 10, Score: 80}, Unlisted: []string{"x.jpg"},
		Limits: []grade.Limits{{Name: "workshop", File: "limits.yaml", SHA256: "0123456789abcdef", Views: []record.View{record.Seam, record.Side}}}, Unlike: "DIFFERENT LIMITS judged these trainees: ...", Trainees: []grade.Trainee{
			{
				Name: "trainee 3", Crimps: crimps(8, 3, 5), Counts: grade.Counts{Conforming: 8, NotConform: 3, NotMeasured: 5},
				Yield: grade.Yield{Conforming: 8, Of: 11, Low: 0.3903, High: 0.9398, Proven: true}, Score: grade.Points{Of: 11, Mean: 71.25, Least: 20, Most: 98},
				Row: grade.Row{Longest: 6, Current: 2, Possible: 10, Standing: grade.Open},
				Findings: grade.Findings{
					Well: []grade.Good{{Name: "symmetry of left and right", Crimps: 11, Score: 95}},
					Faults: []grade.Fault{{Names: []string{"gap between insulation and sleeve (mean)", "gap between insulation and sleeve (largest)"}, Failed: 3, Judged: 11,
						Means: "Bare strands lie open."}},
					Unshown:  []grade.Unshown{{Name: "seam offset", NotProven: 1, Judged: 11, Shows: advice.ToShow(record.Seam, record.SeamOffset)}},
					Photos:   []grade.Photos{{Reason: "no scale was declared: say --scale", Files: []string{"a.jpg", "b.jpg", "c.jpg", "d.jpg"}}},
					Cause:    &grade.Cause{Text: "the wire was stripped too long", Crimps: 3, Of: 3, Others: []string{"the wire was not pushed up to the stop"}},
					Practise: &grade.Practice{Exercise: advice.Against("the wire was stripped too long"), Why: "it is the step"},
				},
				Wires: grade.Wires{Wires: []grade.Crimp{{Name: "wire 1", Doubts: []string{"the tag names another wire"}}}, Counts: grade.Counts{NotProven: 1}},
				Days: []grade.Day{{Date: "2026-04-27", Crimps: 5, Yield: grade.Yield{Conforming: 1, Of: 5, Low: 0.005, High: 0.716}},
					{Date: "2026-05-04", Crimps: 7, Yield: grade.Yield{Conforming: 7, Of: 7, Low: 0.59, High: 1}}},
				Agreement: grade.Agreement{BothGood: 7, BothBad: 2, TooKind: 1, TooHard: 1, LeftOut: 1, Kappa: &kappa, StandardError: &standard},
			},
			{Name: "\x1b[2J", Crimps: []grade.Crimp{{Name: "\x1b[2J / 1", Why: "there were no limits to judge it by"}}, Counts: grade.Counts{NotJudged: 1}, Yield: grade.Yield{High: 1}, Row: grade.Row{Possible: 1, Standing: grade.NotReached}},
			{Name: "gone", Yield: grade.Yield{High: 1}, Row: grade.Row{Standing: grade.NotReached},
				Missing: []grade.Missing{{Crimp: "gone / 6", Result: record.DoesNotConform, When: "2026-05-04"}, {Crimp: "gone / wire", Result: record.NotMeasured, When: "2026-05-04", Wire: true}}},
			{Crimps: crimps(1, 0, 0), Counts: grade.Counts{Conforming: 1}, Yield: grade.Yield{Conforming: 1, Of: 1, High: 1, Proven: true}, Row: grade.Row{Standing: grade.NoMark}},
		}}
	var out bytes.Buffer
	require.NoError(t, New(&out, io.Discard).Grade(r, "workshop-evidence/trainees/index.html"))
	golden(t, "grade.txt", out.String())
}

// crimps are so many that conform, of which the first has too few points, that do not, and that were not measured.
func crimps(good, bad, lost int) []grade.Crimp {
	var all []grade.Crimp
	for i := range good {
		all = append(all, grade.Crimp{Name: "good", Result: record.Conforms, Score: 79.9 + float64(i), CostMost: "seam offset (71.0 of 100 points)"})
	}
	for range bad {
		all = append(all, grade.Crimp{Name: "bad", Result: record.DoesNotConform})
	}
	for i := range lost {
		all = append(all, grade.Crimp{Name: "lost " + string(rune('1'+i)), Result: record.NotMeasured, Why: "the picture is blurred"})
	}
	return all
}
