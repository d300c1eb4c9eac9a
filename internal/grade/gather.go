package grade

import (
	"cmp"
	"slices"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// gathered is what is kept of a trainee's crimps while the scan passes by.
type gathered struct {
	crimps   []Crimp
	features features
	own      ownTable
}

// take counts a crimp in.
func (g *gathered) take(c site.Crimp) {
	light := Crimp{Number: c.Number, Name: c.Name(), Date: dateOf(c), Result: c.Result, Score: c.Score, Own: c.Label.Own}
	light.Faults = g.features.take(c)
	if c.Result == record.NotMeasured {
		light.Retake = whyNot(c)
	}
	g.crimps = append(g.crimps, light)
	g.own.take(c.Label.Own, c.Result)
}

// dateOf is the day on which a crimp was made or, where nobody says, its first picture taken; empty where that is unknown
// too.
func dateOf(c site.Crimp) string {
	if c.Label.Date != "" {
		return c.Label.Date
	}
	const day = len("2006-01-02")
	for _, p := range c.Pictures {
		if p.Record != nil && len(p.Record.Taken) >= day {
			return p.Record.Taken[:day]
		}
	}
	return ""
}

// whyNot is the first reason why a crimp has no values.
func whyNot(c site.Crimp) string {
	for _, p := range c.Pictures {
		switch {
		case p.Record == nil:
			return p.Failure
		case p.Refused():
			return p.Record.Retake[0]
		}
	}
	return ""
}

// trainee works out what is said of one.
func (g *gathered) trainee(name string, mark Mark) Trainee {
	t := Trainee{Name: name, Crimps: g.crimps, ByDate: true, Agreement: g.own.agreement()}
	for _, c := range t.Crimps {
		t.ByDate = t.ByDate && c.Date != ""
	}
	if t.ByDate { // within a day, and without dates, the order is that of the scan
		slices.SortStableFunc(t.Crimps, func(a, b Crimp) int { return cmp.Compare(a.Date, b.Date) })
	}
	sum := 0.0
	for _, c := range t.Crimps {
		switch c.Result {
		case record.Conforms:
			t.Conforming++
		case record.DoesNotConform:
			t.NotConform++
		case record.NotProven:
			t.NotProven++
		case record.NotMeasured:
			t.NotMeasured++
			continue
		default:
			t.NotJudged++
			continue
		}
		if t.Score.Of == 0 {
			t.Score.Least, t.Score.Most = c.Score, c.Score
		}
		t.Score.Of++
		sum += c.Score
		t.Score.Least, t.Score.Most = min(t.Score.Least, c.Score), max(t.Score.Most, c.Score)
	}
	if t.Score.Of > 0 {
		t.Score.Mean = sum / float64(t.Score.Of)
	}
	t.Yield = yieldOf(t.Conforming, t.Score.Of)
	t.Row = rowOf(t.Crimps, mark)
	t.Well, t.Faults, t.Cause = g.features.well(), g.features.faults(), g.features.cause()
	t.Practise = t.practice()
	return t
}
