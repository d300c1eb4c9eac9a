package grade

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"crimprule/internal/evidence"
	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/internal/verdict"
	"crimprule/vision/record"
)

// workshop is an invented apprentice workshop of the ferry terminal: crimps that a test makes one by one.
type workshop struct {
	limits tolerance.File
	crimps []site.Crimp
}

const workshopLimits = `name: apprentice workshop
view: seam
limits:
  insulation_gap_mean: {min: 0.1 mm}
  insulation_gap_max: {max: 1 mm, aim: 0.5 mm}
  stray_count: {max: 0}
  symmetry: {min: 0.85, aim: 1}
elsewhere:
  pull_out_force: {min: 310 N}
`

func newWorkshop(t testing.TB) *workshop {
	limits, err := tolerance.Parse("workshop.yaml", []byte(workshopLimits))
	require.NoError(t, err)
	return &workshop{limits: limits}
}

// Crimps makes a workshop a source of crimps.
func (w *workshop) Crimps(_ context.Context, each func(site.Crimp) error) error {
	for _, c := range w.crimps {
		if err := each(c); err != nil {
			return err
		}
	}
	return nil
}

// made is how a crimp is to come out. The zero one is good.
type made int

const (
	good      made = iota
	gap            // the gap is far too large, mean and largest: does not conform
	strays         // one stray strand: does not conform
	doubtful       // the symmetry is on its limit: not proven
	blurred        // the picture is refused: not measured
	lost           // the picture cannot be read: not measured
	unlimited      // there are no limits: not judged
)

// add makes crimps of a trainee on a day, with the trainee's own judgement.
func (w *workshop) add(trainee, date string, own record.Result, all ...made) {
	for _, m := range all {
		n := len(w.crimps) + 1
		rec := record.New(record.Seam)
		rec.Set(record.InsulationGapMean, 0.45, 0.04)
		rec.Set(record.InsulationGapMax, 0.5, 0.04)
		rec.Set(record.StrayCount, 0, 0)
		rec.Set(record.Symmetry, 0.95, 0.02)
		label := site.Label{Trainee: trainee, Crimp: fmt.Sprintf("%02d", n), Date: date, Own: own}
		p := site.Picture{Position: n - 1, File: fmt.Sprintf("bench/%02d.jpg", n), Label: label, Record: &rec}
		switch m {
		case gap:
			rec.Set(record.InsulationGapMean, 1.4, 0.04)
			rec.Set(record.InsulationGapMax, 1.5, 0.04)
		case strays:
			rec.Set(record.StrayCount, 1, 0)
		case doubtful:
			rec.Set(record.Symmetry, 0.855, 0.02)
		case blurred:
			rec.Refuse("hold the camera still: the picture is blurred")
		case lost:
			p.Record, p.Failure = nil, "the file ends too early; copy it again from the camera"
		}
		if p.Record != nil && m != unlimited {
			v := verdict.Judge(rec, w.limits)
			rec.Verdict = &v
			p.Overlay = fmt.Sprintf("overlays/%02d.png", n)
		}
		c := site.Crimp{Number: n, Label: label, Pictures: []site.Picture{p}}
		c.Settle(m != unlimited)
		w.crimps = append(w.crimps, c)
	}
}

func times(n int, m made) []made {
	all := make([]made, n)
	for i := range all {
		all[i] = m
	}
	return all
}

func workshopInfo() evidence.Info {
	return evidence.Info{
		Title: "Apprentice workshop <ferry terminal>", Source: "/photos/workshop", Program: "crimprule 0.5 (test)",
		When: time.Date(2026, 5, 4, 16, 30, 0, 0, time.FixedZone("", 2*3600)), Views: []record.View{record.Seam},
	}
}

// twelve is a workshop to look at: several trainees with all that can happen.
func twelve(t testing.TB) *workshop {
	w := newWorkshop(t)
	const yes, no = record.Conforms, record.DoesNotConform
	w.add("trainee 1", "2026-05-04", yes, times(12, good)...)
	w.add("trainee 2", "2026-04-27", yes, gap, good, gap, gap, good)
	w.add("trainee 2", "2026-04-27", no, gap, gap)
	w.add("trainee 2", "2026-05-04", yes, good, strays, good, good, good, doubtful, good, blurred)
	w.add("trainee 3", "", "", good, good, strays, doubtful, doubtful, lost)
	w.add("trainee 10", "2026-05-04", no, good, good)
	w.add(`trainee "4" <b>bold</b> & Fähre 船`, "2026-05-04", yes, good, gap)
	w.add("", "", "", unlimited)
	return w
}

// pastOn is a crimp that is remembered and has no name.
func pastOn(date string, result record.Result, score float64) PastResult {
	return PastResult{Date: date, Result: result, Score: score}
}
