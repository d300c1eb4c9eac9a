package history

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// Story is all that was ever measured of a crimp in pictures, the oldest first.
type Story struct {
	Measurements []Telling
	Failures     []Failed
}

// Telling is one measurement of a picture of the crimp, and how it was judged since. Label and File are those of
// the latest scan that has the picture. Record is without a verdict and without marks.
type Telling struct {
	ID       int64
	Measured time.Time
	Program  string
	Request  string
	SHA256   string
	File     string
	Scans    []int64 // those that took this very measurement for the crimp, the oldest first; none where it was of another crimp
	Label    site.Label
	Record   record.Record
	Verdicts []Judgement
	seen     int64 // the latest scan that has the picture
}

// Counted is the latest scan that took this very measurement for the crimp; 0 where none did.
func (t Telling) Counted() int64 {
	if len(t.Scans) == 0 {
		return 0
	}
	return t.Scans[len(t.Scans)-1]
}

// Counts tells whether where the crimp stands now follows from this measurement.
func (t Telling) Counts(s Standing) bool {
	if t.Counted() != s.Scan || s.Scan == 0 {
		return false
	}
	for i, p := range s.Crimp.Pictures {
		if p.SHA256 == t.SHA256 && !s.Crimp.Retaken(i) {
			return true
		}
	}
	return false
}

// Counts tells whether where the crimp stands now follows from this failure.
func (f Failed) Counts(s Standing) bool {
	for i, p := range s.Crimp.Pictures {
		if f.Scan == s.Scan && p.File == f.File && p.Failure != "" && !s.Crimp.Retaken(i) {
			return true
		}
	}
	return false
}

// Judgement is one verdict on a measurement; of the tolerances there is no text.
type Judgement struct {
	Judged     time.Time
	Tolerances Tolerances
	Verdict    record.Verdict
}

// Failed is a picture of the crimp that a scan got no record of.
type Failed struct {
	Scan   int64
	Tried  time.Time
	File   string
	SHA256 string
	Why    string
	Made   string // when the crimp was made, as that scan had it
}

// Story tells what was ever measured of a crimp, as List or Named gave it; what is of a crimp of the same name that was made
// on another day, or scanned in another place, is left out.
func (h *History) Story(ctx context.Context, s Standing) (Story, error) {
	var story Story
	var err error
	if s.id == "" {
		return story, nil // it has no pictures
	}
	if story.Measurements, err = h.tellings(ctx, s.id); err != nil {
		return story, h.explain(err)
	}
	kin, err := h.newKinship(ctx)
	if err != nil {
		return story, err
	}
	other := func(scan int64, date string) bool {
		at, wrong := kin.place(ctx, s.id, kin.sources[scan])
		err = errors.Join(err, wrong)
		return at != s.place || !sameDay(date, s.Crimp.Label.Date)
	}
	story.Measurements = slices.DeleteFunc(story.Measurements, func(t Telling) bool { return other(t.seen, t.Label.Date) })
	for i := range story.Measurements {
		if story.Measurements[i].Verdicts, err = h.judgements(ctx, story.Measurements[i].ID); err != nil {
			return story, h.explain(err)
		}
	}
	failures, failed := h.failures(ctx, s.id)
	story.Failures = slices.DeleteFunc(failures, func(f Failed) bool { return other(f.Scan, f.Made) })
	return story, h.explain(errors.Join(err, failed))
}

// tellings gives the measurements of all pictures that were ever said to show the crimp.
func (h *History) tellings(ctx context.Context, id string) ([]Telling, error) {
	rows, err := h.read.QueryContext(ctx, `SELECT m.id, m.measured, m.program, m.request, m.sha256, m.record, p.file, p.scan,
			(SELECT json_group_array(DISTINCT q.scan) FROM scan_pictures q WHERE q.crimp_id = ?1 AND q.settled <> '' AND q.measurement = m.id), `+labelColumns+`
		FROM (SELECT sha256, max(scan) AS scan, min(position) AS position FROM scan_pictures
			WHERE crimp_id = ?1 AND settled <> '' AND sha256 <> '' GROUP BY sha256) seen
		CROSS JOIN measurements m ON m.sha256 = seen.sha256
		CROSS JOIN scan_pictures p ON p.scan = seen.scan AND p.sha256 = seen.sha256 AND p.crimp_id = ?1
		GROUP BY m.id ORDER BY m.measured, m.id`, id)
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }()
	var all []Telling
	for rows.Next() {
		var t Telling
		var at, own, scans string
		var rec []byte
		if err := rows.Scan(append([]any{&t.ID, &at, &t.Program, &t.Request, &t.SHA256, &rec, &t.File, &t.seen, &scans}, labelInto(&t.Label, &own)...)...); err != nil {
			return nil, err
		}
		t.Measured, t.Label.Own = unstamp(at), record.Result(own)
		if t.Record, err = readRecord(rec, nil); err != nil {
			return nil, err
		}
		if err := json.Unmarshal([]byte(scans), &t.Scans); err != nil {
			return nil, err
		}
		slices.Sort(t.Scans)
		all = append(all, t)
	}
	return all, rows.Err()
}

func (h *History) judgements(ctx context.Context, measurement int64) ([]Judgement, error) {
	rows, err := h.read.QueryContext(ctx, `SELECT v.judged, v.verdict, t.hash, t.name, t.file FROM verdicts v JOIN tolerances t ON t.hash = v.tolerances
		WHERE v.measurement = ? ORDER BY v.id`, measurement)
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }()
	var all []Judgement
	for rows.Next() {
		var j Judgement
		var at string
		var verdict []byte
		if err := rows.Scan(&at, &verdict, &j.Tolerances.Hash, &j.Tolerances.Name, &j.Tolerances.File); err != nil {
			return nil, err
		}
		j.Judged = unstamp(at)
		if err := json.Unmarshal(verdict, &j.Verdict); err != nil {
			return nil, fmt.Errorf("a verdict cannot be read: %w", err)
		}
		all = append(all, j)
	}
	return all, rows.Err()
}

func (h *History) failures(ctx context.Context, id string) ([]Failed, error) {
	rows, err := h.read.QueryContext(ctx, `SELECT scan, settled, file, sha256, failure, made FROM scan_pictures WHERE crimp_id = ? AND settled <> '' AND failure <> ''
		ORDER BY scan, position`, id)
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }()
	var all []Failed
	for rows.Next() {
		var f Failed
		var at string
		if err := rows.Scan(&f.Scan, &at, &f.File, &f.SHA256, &f.Why, &f.Made); err != nil {
			return nil, err
		}
		f.Tried = unstamp(at)
		all = append(all, f)
	}
	return all, rows.Err()
}

// Tally is a scan with what came of its pictures: Recorded have a record, be it that of an earlier scan; New is how many
// measurements no earlier scan had.
type Tally struct {
	Scan
	Pictures, Recorded, New, Failed, Pending int
}

// Scans gives all scans, the oldest first.
func (h *History) Scans(ctx context.Context) ([]Tally, error) {
	rows, err := h.read.QueryContext(ctx, `SELECT s.id, s.source, s.program, s.orders, s.output, s.started, s.finished, count(p.scan),
			coalesce(sum(p.measurement IS NOT NULL), 0),
			count(DISTINCT CASE WHEN NOT EXISTS (SELECT 1 FROM scan_pictures q WHERE q.sha256 = p.sha256 AND q.sha256 <> '' AND q.measurement = p.measurement
				AND q.scan < p.scan) THEN p.measurement END),
			coalesce(sum(p.failure <> ''), 0), coalesce(sum(p.settled = ''), 0)
		FROM scans s LEFT JOIN scan_pictures p ON p.scan = s.id GROUP BY s.id ORDER BY s.id`)
	if err != nil {
		return nil, h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	var all []Tally
	for rows.Next() {
		var t Tally
		var started, finished string
		if err := rows.Scan(&t.ID, &t.Source, &t.Program, &t.Order, &t.Out, &started, &finished, &t.Pictures, &t.Recorded, &t.New, &t.Failed, &t.Pending); err != nil {
			return nil, h.explain(err)
		}
		t.Started, t.Finished = unstamp(started), unstamp(finished)
		all = append(all, t)
	}
	return all, h.explain(rows.Err())
}
