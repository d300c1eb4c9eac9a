package history

import (
	"context"
	"database/sql"
	"encoding/json"
	"strconv"
	"time"
	"unicode/utf8"

	"crimprule/internal/site"
	"crimprule/internal/verdict"
	"crimprule/vision/record"
)

// Dump calls each with every row of the history but for marks and the queue, ready to be written as JSON: first scans and
// tolerances, then measurements, verdicts, the pictures of the scans, what was measured elsewhere, and what of it was withdrawn, in the order in
// which they were noted. Records and verdicts are the bytes that were first written.
func (h *History) Dump(ctx context.Context, each func(row any) error) error {
	for _, dump := range []func(context.Context, func(any) error) error{h.dumpScans, h.dumpTolerances, h.dumpMeasurements, h.dumpVerdicts, h.dumpPictures, h.dumpElsewhere, h.dumpWithdrawals} {
		if err := dump(ctx, each); err != nil {
			return err
		}
	}
	return nil
}

// stream calls each for every row of a query.
func (h *History) stream(ctx context.Context, query string, each func(*sql.Rows) error) error {
	rows, err := h.read.QueryContext(ctx, query)
	if err != nil {
		return h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		if err := each(rows); err != nil {
			return err
		}
	}
	return h.explain(rows.Err())
}

// DumpedScan is a scan as Dump gives it. Request and Order are JSON where the program that wrote them used JSON.
type DumpedScan struct {
	Kind     string          `json:"kind"`
	ID       int64           `json:"id"`
	Source   string          `json:"source"`
	Program  string          `json:"program"`
	Order    json.RawMessage `json:"order"`
	Out      string          `json:"out"`
	Started  time.Time       `json:"started"`
	Finished *time.Time      `json:"finished"` // null while it is not at its end
}

func (h *History) dumpScans(ctx context.Context, each func(any) error) error {
	return h.stream(ctx, `SELECT id, source, program, orders, output, started, finished FROM scans ORDER BY id`, func(rows *sql.Rows) error {
		d := DumpedScan{Kind: "scan"}
		var order, started, finished string
		if err := rows.Scan(&d.ID, &d.Source, &d.Program, &order, &d.Out, &started, &finished); err != nil {
			return h.explain(err)
		}
		d.Order, d.Started = asJSON(order), unstamp(started)
		if end := unstamp(finished); !end.IsZero() {
			d.Finished = &end
		}
		return each(d)
	})
}

// DumpedTolerances is a tolerances file as Dump gives it.
type DumpedTolerances struct {
	Kind string `json:"kind"`
	Hash string `json:"sha256"`
	Name string `json:"name"`
	File string `json:"file"`
	Text string `json:"text"`
}

func (h *History) dumpTolerances(ctx context.Context, each func(any) error) error {
	return h.stream(ctx, `SELECT hash, name, file, text FROM tolerances ORDER BY added, hash`, func(rows *sql.Rows) error {
		d := DumpedTolerances{Kind: "tolerances"}
		if err := rows.Scan(&d.Hash, &d.Name, &d.File, &d.Text); err != nil {
			return h.explain(err)
		}
		return each(d)
	})
}

// DumpedMeasurement is a measurement as Dump gives it.
type DumpedMeasurement struct {
	Kind     string          `json:"kind"`
	ID       int64           `json:"id"`
	SHA256   string          `json:"sha256"`
	Program  string          `json:"program"`
	Request  json.RawMessage `json:"request"`
	Measured time.Time       `json:"measured"`
	Record   json.RawMessage `json:"record"`
}

func (h *History) dumpMeasurements(ctx context.Context, each func(any) error) error {
	return h.stream(ctx, `SELECT id, sha256, program, request, measured, record FROM measurements ORDER BY id`, func(rows *sql.Rows) error {
		d := DumpedMeasurement{Kind: "measurement"}
		var request, measured string
		var rec []byte
		if err := rows.Scan(&d.ID, &d.SHA256, &d.Program, &request, &measured, &rec); err != nil {
			return h.explain(err)
		}
		d.Request, d.Measured, d.Record = asJSON(request), unstamp(measured), rec
		return each(d)
	})
}

// DumpedVerdict is a verdict as Dump gives it.
type DumpedVerdict struct {
	Kind        string          `json:"kind"`
	ID          int64           `json:"id"`
	Measurement int64           `json:"measurement"`
	Tolerances  string          `json:"tolerances"` // SHA-256
	Judged      time.Time       `json:"judged"`
	Verdict     json.RawMessage `json:"verdict"`
}

func (h *History) dumpVerdicts(ctx context.Context, each func(any) error) error {
	return h.stream(ctx, `SELECT id, measurement, tolerances, judged, verdict FROM verdicts ORDER BY id`, func(rows *sql.Rows) error {
		d := DumpedVerdict{Kind: "verdict"}
		var judged string
		var text []byte
		if err := rows.Scan(&d.ID, &d.Measurement, &d.Tolerances, &judged, &text); err != nil {
			return h.explain(err)
		}
		d.Judged, d.Verdict = unstamp(judged), text
		return each(d)
	})
}

// DumpedPicture is a picture of a scan as Dump gives it. FileQuoted is the file's name quoted as in Go, where it is no
// UTF-8, which JSON cannot hold.
type DumpedPicture struct {
	Kind        string      `json:"kind"`
	Scan        int64       `json:"scan"`
	Position    int         `json:"position"`
	File        string      `json:"file"`
	FileQuoted  string      `json:"file_quoted,omitempty"`
	Label       site.Label  `json:"label"`
	Origin      site.Origin `json:"origin"`
	Tag         string      `json:"tag,omitempty"`
	SHA256      string      `json:"sha256,omitempty"`
	Bytes       int64       `json:"bytes,omitempty"`
	Settled     *time.Time  `json:"settled"` // null while nothing has come of it
	Measurement *int64      `json:"measurement,omitempty"`
	Verdict     *int64      `json:"verdict,omitempty"`
	Tolerances  string      `json:"tolerances,omitempty"` // SHA-256
	Failure     string      `json:"failure,omitempty"`
}

func (h *History) dumpPictures(ctx context.Context, each func(any) error) error {
	return h.stream(ctx, `SELECT p.scan, p.position, p.file, p.origin, p.tag, p.sha256, p.bytes, p.settled, p.measurement, p.verdict, p.tolerances, p.failure, `+
		labelColumns+` FROM scan_pictures p ORDER BY p.scan, p.position`, func(rows *sql.Rows) error {
		d := DumpedPicture{Kind: "picture"}
		var origin, settled, own string
		if err := rows.Scan(append([]any{&d.Scan, &d.Position, &d.File, &origin, &d.Tag, &d.SHA256, &d.Bytes, &settled, &d.Measurement, &d.Verdict, &d.Tolerances, &d.Failure},
			labelInto(&d.Label, &own)...)...); err != nil {
			return h.explain(err)
		}
		d.Origin, d.Label.Own = site.Origin(origin), record.Result(own)
		if at := unstamp(settled); !at.IsZero() {
			d.Settled = &at
		}
		if !utf8.ValidString(d.File) {
			d.FileQuoted = strconv.Quote(d.File)
		}
		return each(d)
	})
}

// DumpedElsewhere is a value measured elsewhere as Dump gives it. Verdict is how it is judged today, as `history show` has
// it; null where there is no limit for it or it does not count.
type DumpedElsewhere struct {
	Kind    string `json:"kind"`
	String  string `json:"string,omitempty"`
	Trainee string `json:"trainee,omitempty"`
	Crimp   string `json:"crimp"`
	site.Elsewhere
	Verdict        *record.Feature `json:"verdict"`
	Tolerances     string          `json:"tolerances,omitempty"` // SHA-256 of those that judged it
	TolerancesName string          `json:"-"`
}

// judgedValue is what is said of a value measured elsewhere by the crimp that it belongs to.
type judgedValue struct {
	feature  *record.Feature
	by       Tolerances
	outdated string
}

// judgedElsewhere judges all values measured elsewhere, by their ids. Of crimps of one name that were made on different days
// the last one by which a value is judged counts.
func (h *History) judgedElsewhere(ctx context.Context) (map[int64]judgedValue, error) {
	all, judge := map[int64]judgedValue{}, h.NewJudge()
	err := h.List(ctx, Filter{}, func(s Standing) error {
		if err := judge.Settle(ctx, &s); err != nil {
			return err
		}
		for i, e := range s.Crimp.Elsewhere {
			at := verdict.ElsewhereIndex(s.Crimp.ElsewhereVerdict, s.Crimp.Elsewhere, i)
			before, told := all[e.ID]
			switch {
			case at >= 0:
				all[e.ID] = judgedValue{feature: &s.Crimp.ElsewhereVerdict.Features[at], by: s.judged[at]}
			case !told || before.outdated != "":
				all[e.ID] = judgedValue{outdated: e.Outdated}
			}
		}
		return nil
	})
	return all, err
}

func (h *History) dumpElsewhere(ctx context.Context, each func(any) error) error {
	judged, err := h.judgedElsewhere(ctx)
	if err != nil {
		return err
	}
	return h.stream(ctx, `SELECT `+elsewhereColumns+` ORDER BY e.id`, func(rows *sql.Rows) error {
		l, e, err := scanElsewhere(rows)
		if err != nil {
			return h.explain(err)
		}
		j := judged[e.ID]
		e.Outdated = j.outdated
		return each(DumpedElsewhere{Kind: "elsewhere", String: l.String, Trainee: l.Trainee, Crimp: l.Crimp, Elsewhere: e,
			Verdict: j.feature, Tolerances: j.by.Hash, TolerancesName: j.by.Name})
	})
}

// DumpedWithdrawal says of a value measured elsewhere, by its id, that it no longer counts.
type DumpedWithdrawal struct {
	Kind      string    `json:"kind"`
	Elsewhere int64     `json:"elsewhere"`
	Who       string    `json:"who"`
	Why       string    `json:"note"`
	Added     time.Time `json:"added"`
}

func (h *History) dumpWithdrawals(ctx context.Context, each func(any) error) error {
	return h.stream(ctx, `SELECT elsewhere, who, note, added FROM withdrawals ORDER BY added, elsewhere`, func(rows *sql.Rows) error {
		d := DumpedWithdrawal{Kind: "withdrawal"}
		var added string
		if err := rows.Scan(&d.Elsewhere, &d.Who, &d.Why, &added); err != nil {
			return h.explain(err)
		}
		d.Added = unstamp(added)
		return each(d)
	})
}

// asJSON is text as it is where it is JSON, else as a JSON string.
func asJSON(text string) json.RawMessage {
	if json.Valid([]byte(text)) {
		return json.RawMessage(text)
	}
	quoted, _ := json.Marshal(text) // cannot fail for a string
	return quoted
}

// Shown is a picture of a scan with what came of it, for tables. The record has no marks.
type Shown struct {
	Scan       int64
	Source     string // what the scan read
	Program    string
	Tag        string
	Picture    site.Picture
	Tolerances Tolerances // those that judged it, without text
}

// Pictures calls each with every settled picture of every scan, in order. A picture is in memory while it is handed out.
func (h *History) Pictures(ctx context.Context, each func(Shown) error) error {
	return h.stream(ctx, `SELECT p.scan, s.source, s.program, p.tag, p.position, p.file, p.sha256, p.bytes, p.origin, p.failure, p.tolerances, t.name, t.file, m.measured, m.record, v.verdict, `+
		labelColumns+` FROM scan_pictures p CROSS JOIN scans s ON s.id = p.scan LEFT JOIN measurements m ON m.id = p.measurement
		LEFT JOIN verdicts v ON v.id = p.verdict LEFT JOIN tolerances t ON t.hash = p.tolerances WHERE p.settled <> '' ORDER BY p.scan, p.position`,
		func(rows *sql.Rows) error {
			var s Shown
			var own, origin string
			var name, file, measured sql.NullString
			var rec, judged []byte
			p := &s.Picture
			if err := rows.Scan(append([]any{&s.Scan, &s.Source, &s.Program, &s.Tag, &p.Position, &p.File, &p.SHA256, &p.Bytes, &origin, &p.Failure, &p.Tolerances, &name, &file,
				&measured, &rec, &judged}, labelInto(&p.Label, &own)...)...); err != nil {
				return h.explain(err)
			}
			p.Label.Own, p.Origin = record.Result(own), site.Origin(origin)
			s.Tolerances = Tolerances{Hash: p.Tolerances, Name: name.String, File: file.String}
			if measured.Valid {
				p.Measured = unstamp(measured.String)
				r, err := judgedRecord(p.File, rec, nil, judged)
				if err != nil {
					return h.explain(err)
				}
				p.Record = &r
			}
			return each(s)
		})
}
