package history

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"crimprule/internal/likeness"
	"crimprule/internal/site"
	"crimprule/vision/record"
)

// Key names a measurement: which bytes, by which version of the program, asked in which way (canonical JSON of view,
// scales and what is declared).
type Key struct{ SHA256, Program, Request string }

// Measurement is what was once found in a picture: the record without a verdict, its Image as it was then, with marks.
type Measurement struct {
	ID     int64
	At     time.Time
	Record record.Record
}

// Outcome is what came of a picture of a scan.
type Outcome struct {
	Position int
	SHA256   string // empty where the bytes could not be read
	Bytes    int64
	Key      Key
	// Record has its Verdict where there were limits; nil where Failure is set. Without its verdict it must depend on
	// Key alone: it is what Find gives to others.
	Record      *record.Record
	Measurement int64  // the measurement that Record was taken from, as Find gave it; 0: Record is new and is kept
	Tolerances  string // hash of the tolerances file, kept before by KeepTolerances; empty where there were no limits
	Failure     string // why there is no record, and what to do
	Tag         string // what the card's tag in the picture says

	Look *likeness.Look // what it looks like; nil where that is known already, or nobody looked
}

// Find looks for an earlier measurement.
func (h *History) Find(ctx context.Context, key Key) (Measurement, bool, error) {
	var m Measurement
	var at string
	var rec, marks []byte
	err := h.read.QueryRowContext(ctx, `SELECT id, measured, record, marks FROM measurements WHERE sha256 = ? AND program = ? AND request = ?`,
		key.SHA256, key.Program, key.Request).Scan(&m.ID, &at, &rec, &marks)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return m, false, nil
	case err != nil:
		return m, false, h.explain(err)
	}
	m.At = unstamp(at)
	m.Record, err = readRecord(rec, marks)
	return m, err == nil, h.explain(err)
}

func readRecord(rec, marks []byte) (record.Record, error) {
	var r record.Record
	if err := json.Unmarshal(rec, &r); err != nil {
		return r, fmt.Errorf("a record cannot be read: %w", err)
	}
	var err error
	r.Marks, err = UnpackMarks(marks)
	return r, err
}

// Settle keeps what came of a picture, all of it or nothing. Of two measurements of equal Key the first one stays. A
// failure never takes the place of a measurement.
func (h *History) Settle(ctx context.Context, scan int64, o Outcome) error {
	kept, err := keep(o)
	if err != nil {
		return h.explain(err)
	}
	return h.change(ctx, func(tx *sql.Tx) error {
		now := stamp(h.now())
		if o.SHA256 != "" {
			if _, err := tx.ExecContext(ctx, `INSERT INTO pictures (sha256, bytes, added) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`, o.SHA256, o.Bytes, now); err != nil {
				return err
			}
			if err := keepLook(ctx, tx, o.SHA256, o.Look); err != nil {
				return err
			}
		}
		var measurement, verdict sql.NullInt64
		if o.Record != nil {
			if measurement.Int64, err = h.keepMeasurement(ctx, tx, o, kept, now); err != nil {
				return err
			}
			measurement.Valid = true
			if verdict, err = keepVerdict(ctx, tx, measurement.Int64, o, kept.verdict, now); err != nil {
				return err
			}
		}
		result, err := tx.ExecContext(ctx, `UPDATE scan_pictures SET settled = ?, sha256 = ?, bytes = ?, tag = ?, measurement = ?, verdict = ?, tolerances = ?, failure = ?
			WHERE scan = ? AND position = ? AND (? OR measurement IS NULL)`,
			now, o.SHA256, o.Bytes, o.Tag, measurement, verdict, o.Tolerances, o.Failure, scan, o.Position, o.Record != nil)
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 1 || o.Record == nil {
			return err
		}
		return fmt.Errorf("scan %d has no picture %d; this is a fault of the program, please report it", scan, o.Position)
	})
}

// texts is a record as it is kept.
type texts struct{ record, marks, verdict []byte }

// keep checks an outcome and writes its record as JSON, before the history is locked for it.
func keep(o Outcome) (texts, error) {
	var t texts
	switch {
	case (o.Record == nil) == (o.Failure == ""):
		return t, fmt.Errorf("picture %d has neither or both of record and failure; this is a fault of the program, please report it", o.Position)
	case o.Record == nil:
		return t, nil
	case o.Record.Verdict != nil && o.Tolerances == "":
		return t, fmt.Errorf("picture %d has a verdict, but no tolerances; this is a fault of the program, please report it", o.Position)
	case o.Key.SHA256 != o.SHA256 || o.SHA256 == "":
		return t, fmt.Errorf("picture %d: its key names other bytes; this is a fault of the program, please report it", o.Position)
	}
	var err error
	if o.Record.Verdict != nil {
		if t.verdict, err = json.Marshal(o.Record.Verdict); err != nil {
			return t, err
		}
	}
	if o.Measurement != 0 {
		return t, nil
	}
	raw := *o.Record
	raw.Verdict = nil
	if t.record, err = json.Marshal(raw); err != nil {
		return t, fmt.Errorf("the record of picture %d cannot be written as JSON: %w; this is a fault of the program, please report it", o.Position, err)
	}
	t.marks, err = PackMarks(raw.Marks)
	return t, err
}

func (h *History) keepMeasurement(ctx context.Context, tx *sql.Tx, o Outcome, t texts, now string) (int64, error) {
	if o.Measurement != 0 {
		return o.Measurement, nil
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO measurements (sha256, program, request, measured, view, taken, refused, record, marks)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (sha256, program, request) DO NOTHING`,
		o.SHA256, o.Key.Program, o.Key.Request, now, string(o.Record.View), o.Record.Taken, len(o.Record.Retake) > 0, t.record, t.marks)
	if err != nil {
		return 0, err
	}
	var id int64
	err = tx.QueryRowContext(ctx, `SELECT id FROM measurements WHERE sha256 = ? AND program = ? AND request = ?`,
		o.SHA256, o.Key.Program, o.Key.Request).Scan(&id)
	return id, err
}

// keepVerdict keeps a verdict, unless the same one stands there already.
func keepVerdict(ctx context.Context, tx *sql.Tx, measurement int64, o Outcome, text []byte, now string) (sql.NullInt64, error) {
	var id sql.NullInt64
	if o.Record.Verdict == nil {
		return id, nil
	}
	var last []byte
	err := tx.QueryRowContext(ctx, `SELECT id, verdict FROM verdicts WHERE measurement = ? AND tolerances = ? ORDER BY id DESC LIMIT 1`,
		measurement, o.Tolerances).Scan(&id, &last)
	if err == nil && bytes.Equal(last, text) || err != nil && !errors.Is(err, sql.ErrNoRows) {
		return id, err
	}
	result, err := tx.ExecContext(ctx, `INSERT INTO verdicts (measurement, tolerances, judged, result, score, verdict) VALUES (?, ?, ?, ?, ?, ?)`,
		measurement, o.Tolerances, now, string(o.Record.Verdict.Result), o.Record.Verdict.Score, text)
	if err != nil {
		return id, fmt.Errorf("the verdict on picture %d by tolerances %s: %w", o.Position, o.Tolerances, err)
	}
	id.Valid = true
	id.Int64, err = result.LastInsertId()
	return id, err
}

// Picture gives one picture of a scan with what came of it: its record with marks and verdict, or its failure. The
// record's Image is the picture's file in this scan. While nothing has come of it, both are empty.
func (h *History) Picture(ctx context.Context, scan int64, position int) (site.Picture, error) {
	p := site.Picture{Position: position}
	var own, origin string
	var measured sql.NullString
	var rec, marks, verdict []byte
	row := h.read.QueryRowContext(ctx, `SELECT p.file, p.sha256, p.bytes, p.origin, p.failure, p.tolerances, m.measured, m.record, m.marks, v.verdict, `+labelColumns+`
		FROM scan_pictures p LEFT JOIN measurements m ON m.id = p.measurement LEFT JOIN verdicts v ON v.id = p.verdict
		WHERE p.scan = ? AND p.position = ?`, scan, position)
	err := row.Scan(append([]any{&p.File, &p.SHA256, &p.Bytes, &origin, &p.Failure, &p.Tolerances, &measured, &rec, &marks, &verdict},
		labelInto(&p.Label, &own)...)...)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return p, fmt.Errorf("history %q: scan %d has no picture %d", h.path, scan, position)
	case err != nil:
		return p, h.explain(err)
	}
	p.Label.Own, p.Origin = record.Result(own), site.Origin(origin)
	if !measured.Valid {
		return p, nil
	}
	p.Measured = unstamp(measured.String)
	r, err := judgedRecord(p.File, rec, marks, verdict)
	if err != nil {
		return p, h.explain(err)
	}
	p.Record = &r
	return p, nil
}

// judgedRecord puts a record together with its verdict, which may be nil; image is the picture's file.
func judgedRecord(image string, rec, marks, verdict []byte) (record.Record, error) {
	r, err := readRecord(rec, marks)
	if err != nil {
		return r, err
	}
	r.Image = image
	if verdict != nil {
		r.Verdict = &record.Verdict{}
		if err := json.Unmarshal(verdict, r.Verdict); err != nil {
			return r, fmt.Errorf("a verdict cannot be read: %w", err)
		}
	}
	return r, nil
}
