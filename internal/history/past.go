package history

import (
	"cmp"
	"context"
	"slices"
	"time"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// Past is how a crimp came out, for looking at how someone or some tool did over time.
type Past struct {
	Label    site.Label // with Date, when it was made, where that is known
	SHA256   string     // of its first picture; empty where that could not be read
	Scan     int64
	Taken    string    // when its first picture was taken, as its metadata credibly say, or one without a picture was measured; else empty
	Measured time.Time // when it was measured or, where that failed, tried
	Result   record.Result
	Score    float64
	Stripped bool // it is no crimp but a stripped wire
	Judged   []JudgedBy
	position int // of its first picture in its scan
}

// JudgedBy is the tolerances file, by its hash, that judged a picture of a view.
type JudgedBy struct {
	View record.View
	Hash string
}

// When is the day of a crimp, YYYY-MM-DD: when it was made, else when its picture was taken, else when it was measured.
func (p Past) When() string {
	switch {
	case p.Label.Date != "":
		return p.Label.Date
	case len(p.Taken) >= len(time.DateOnly):
		return p.Taken[:len(time.DateOnly)]
	}
	return p.Measured.Format(time.DateOnly)
}

// Trainee gives the crimps of a trainee over all scans, each once with its latest outcome, by day, then in the order
// in which they were taken or scanned. Crimps of
// one name are different ones where they were made on different days or, the day not being known, lie in different
// places; but a picture that was seen before is no new crimp wherever it lies. What was measured elsewhere counts, and so do
// crimps of which nothing else is known.
func (h *History) Trainee(ctx context.Context, name string) ([]Past, error) {
	return h.past(ctx, "trainee", name)
}

// Tool gives the crimps of a tool in the same way; of one without a picture the tool is not known.
func (h *History) Tool(ctx context.Context, name string) ([]Past, error) {
	return h.past(ctx, "tool", name)
}

func (h *History) past(ctx context.Context, column, name string) ([]Past, error) {
	if name == "" {
		return nil, nil
	}
	type made struct{ id, date, source string }
	seen, pictures := map[made]bool{}, map[string]bool{}
	var all []Past
	doubts, judge := h.newDoubter(), h.NewJudge()
	places, err := h.places(ctx, `SELECT DISTINCT string, trainee, crimp, '' AS source FROM elsewhere`, nil)
	if err != nil {
		return nil, err
	}
	with := map[place]bool{}
	for _, at := range places {
		with[at] = true
	}
	theirs := `(p.crimp_id, p.scan) IN (SELECT crimp_id, scan FROM scan_pictures WHERE settled <> '' AND ` + column + ` <> '' AND ` + column + ` = ?)`
	err = h.walk(ctx, standingQuery(theirs, `p.scan DESC, p.crimp_id, p.position`, true), []any{name}, func(rows []light) error {
		found, err := doubts.standings(ctx, rows)
		if err != nil {
			return err
		}
		for _, s := range found {
			key := made{id: rows[0].id, date: s.Crimp.Label.Date}
			if key.date == "" {
				key.source = rows[0].source
			}
			known := seen[key]
			for _, p := range s.Crimp.Pictures {
				known = known || pictures[p.SHA256]
			}
			for _, p := range s.Crimp.Pictures {
				pictures[p.SHA256] = p.SHA256 != ""
			}
			seen[key] = true
			if known {
				continue
			}
			if with[placeOf(s.Crimp.Label, "")] {
				if s.Crimp.Elsewhere, err = h.Elsewhere(ctx, s.Crimp.Label, rows[0].source); err != nil {
					return err
				}
			}
			if err := judge.Settle(ctx, &s); err != nil {
				return err
			}
			all = append(all, pastOf(s))
		}
		return nil
	})
	if err == nil && column == "trainee" {
		err = h.pastSamples(ctx, name, func(s Standing) error {
			if err := judge.Settle(ctx, &s); err != nil || s.Crimp.Counting() == 0 {
				return err
			}
			all = append(all, pastOf(s))
			return nil
		})
	}
	slices.SortStableFunc(all, func(a, b Past) int {
		if day := cmp.Compare(a.When(), b.When()); day != 0 {
			return day
		}
		if a.Taken != "" && b.Taken != "" && a.Taken != b.Taken {
			return cmp.Compare(a.Taken, b.Taken)
		}
		return cmp.Or(cmp.Compare(a.Scan, b.Scan), cmp.Compare(a.position, b.position))
	})
	return all, err
}

// pastSamples calls each with the trainee's crimps that no picture ever showed.
func (h *History) pastSamples(ctx context.Context, trainee string, each func(Standing) error) error {
	places, err := h.unpictured(ctx)
	if err != nil {
		return err
	}
	return h.samples(ctx, slices.DeleteFunc(places, func(at place) bool { return at.trainee != trainee }), each)
}

func pastOf(s Standing) Past {
	p := Past{Label: s.Crimp.Label, Scan: s.Scan, Measured: s.At, Result: s.Crimp.Result, Score: s.Crimp.Score, Stripped: s.Crimp.Stripped()}
	if len(s.Crimp.Pictures) == 0 {
		for _, e := range s.Crimp.Elsewhere {
			if e.NotJudged() == "" {
				p.Taken = max(p.Taken, e.When)
			}
		}
		return p
	}
	first := s.Crimp.Pictures[0]
	p.SHA256, p.position = first.SHA256, first.Position
	p.Taken = first.Taken()
	for _, picture := range s.Crimp.Pictures {
		if picture.Usable() && picture.Record.Verdict != nil {
			p.Judged = append(p.Judged, JudgedBy{picture.Record.View, picture.Tolerances})
		}
	}
	return p
}
