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
	r := grade.Report{Mark: grade.Mark{Row: 10, Score: 80}, Trainees: []grade.Trainee{
		{
			Name: "trainee 3", Crimps: make([]grade.Crimp, 12), Counts: grade.Counts{Conforming: 8, NotConform: 3, NotMeasured: 1},
			Yield: grade.Yield{Conforming: 8, Of: 11, Low: 0.3903, High: 0.9398, Proven: true}, Score: grade.Points{Of: 11, Mean: 71.25, Least: 20, Most: 98},
			Row: grade.Row{Longest: 6, Current: 2, Possible: 10, Standing: grade.Open},
			Findings: grade.Findings{
				Well: []grade.Good{{Name: "symmetry of left and right", Crimps: 11, Score: 95}},
				Faults: []grade.Fault{{Names: []string{"gap between insulation and sleeve (mean)", "gap between insulation and sleeve (largest)"}, Failed: 3, Judged: 11,
					Means: "Bare strands lie open."}},
				Unshown:  []grade.Unshown{{Name: "seam offset", NotProven: 1, Judged: 11, Shows: advice.ToShow(record.Seam, record.SeamOffset)}},
				Photos:   []grade.Photos{{Reason: "no scale was declared: say --scale", Files: []string{"a.jpg", "b.jpg", "c.jpg", "d.jpg"}}},
				Cause:    &grade.Cause{Text: "the wire was stripped too long", Crimps: 3, Of: 3},
				Practise: &grade.Practice{Exercise: advice.Against("the wire was stripped too long"), Why: "it is the step"},
			},
			Wires: grade.Wires{Wires: []grade.Crimp{{Name: "wire 1", Doubts: []string{"the tag names another wire"}}}, Counts: grade.Counts{NotProven: 1}},
			Days: []grade.Day{{Date: "2026-04-27", Crimps: 5, Yield: grade.Yield{Conforming: 1, Of: 5, Low: 0.005, High: 0.716}},
				{Date: "2026-05-04", Crimps: 7, Yield: grade.Yield{Conforming: 7, Of: 7, Low: 0.59, High: 1}}},
			Agreement: grade.Agreement{BothGood: 7, BothBad: 2, TooKind: 1, TooHard: 1, LeftOut: 1, Kappa: &kappa, StandardError: &standard},
		},
		{Name: "\x1b[2J", Crimps: make([]grade.Crimp, 1), Counts: grade.Counts{NotJudged: 1}, Yield: grade.Yield{High: 1}, Row: grade.Row{Possible: 1, Standing: grade.NotReached}},
	}}
	var out bytes.Buffer
	require.NoError(t, New(&out, io.Discard).Grade(r, "workshop-evidence/trainees/index.html"))
	golden(t, "grade.txt", out.String())
}
