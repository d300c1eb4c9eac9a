package history

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// Scan is one call of `scan`. Source is the absolute path of what is scanned, Order the canonical JSON of all options
// that bear on the results, Out the folder of the evidence. Finished is the zero time while the scan is not at its end.
type Scan struct {
	ID       int64
	Source   string
	Program  string // version of the program
	Order    string
	Out      string
	Started  time.Time
	Finished time.Time
}

// Entry is a picture of a scan before anything is known of it: which one, which crimp it is said to show, and what is
// asked of it. Request is canonical JSON of view, scales and what is declared; Tolerances are the hashes of the files to
// judge it by.
type Entry struct {
	Position   int
	File       string // its path in the source, slashes between folders; any bytes
	Label      site.Label
	Origin     site.Origin
	Request    string
	Tolerances []string
}

// RunningError says that another process is working on the same scan.
type RunningError struct {
	Scan  int64
	PID   int
	Host  string
	Since time.Time
}

func (e *RunningError) Error() string {
	return fmt.Sprintf("the same scan is being worked on by process %d on %s: wait for it, or end that process and call again", e.PID, e.Host)
}

// Begin notes a scan and its pictures. It takes up the newest unfinished scan of equal Source, Program, Order and Out, if
// there is one: what was measured of a file that is still asked for in the same way is kept (Reopen those that hold other
// bytes now), failures are dropped, to be tried again; positions and labels are the new ones. It is a RunningError where another
// process works on that scan. Where pictures that have an outcome are no longer there, that scan is ended as it is, so that
// Missing can tell what was taken away, and a new one begins; what was measured is found again by Find.
func (h *History) Begin(ctx context.Context, s Scan, entries []Entry) (id int64, resumed bool, err error) {
	err = h.change(ctx, func(tx *sql.Tx) error {
		row := tx.QueryRowContext(ctx, `SELECT id FROM scans WHERE finished = '' AND source = ? AND program = ? AND orders = ? AND output = ?
			ORDER BY id DESC LIMIT 1`, s.Source, s.Program, s.Order, s.Out)
		err := row.Scan(&id)
		if err == nil {
			resumed, err = resume(ctx, tx, id, entries, stamp(h.now()))
		}
		if resumed || err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		result, err := tx.ExecContext(ctx, `INSERT INTO scans (source, program, orders, output, started) VALUES (?, ?, ?, ?, ?)`,
			s.Source, s.Program, s.Order, s.Out, stamp(h.now()))
		if err != nil {
			return err
		}
		if id, err = result.LastInsertId(); err != nil {
			return err
		}
		return insertEntries(ctx, tx, id, entries, nil)
	})
	return id, resumed, err
}

// resume takes a scan up again; false where it was ended instead.
func resume(ctx context.Context, tx *sql.Tx, id int64, entries []Entry, now string) (bool, error) {
	if err := refuseRunning(ctx, tx, id); err != nil {
		return false, err
	}
	gone, err := takenAway(ctx, tx, id, entries)
	if err != nil {
		return false, err
	}
	if gone {
		_, err := tx.ExecContext(ctx, `UPDATE scans SET finished = ? WHERE id = ?`, now, id)
		return false, err
	}
	done, err := measuredOf(ctx, tx, id)
	if err != nil {
		return false, err
	}
	if _, err := tx.ExecContext(ctx, `DELETE FROM scan_pictures WHERE scan = ?`, id); err != nil {
		return false, err
	}
	return true, insertEntries(ctx, tx, id, entries, done)
}

// takenAway tells whether a file that has an outcome is not among the entries.
func takenAway(ctx context.Context, tx *sql.Tx, scan int64, entries []Entry) (bool, error) {
	files := make(map[string]bool, len(entries))
	for _, e := range entries {
		files[e.File] = true
	}
	rows, err := tx.QueryContext(ctx, `SELECT file FROM scan_pictures WHERE scan = ? AND settled <> ''`, scan)
	if err != nil {
		return false, err
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		var file string
		if err := rows.Scan(&file); err != nil {
			return false, err
		}
		if !files[file] {
			return true, nil
		}
	}
	return false, rows.Err()
}

// asked is what a file was asked for: equal ones have equal outcomes.
type asked struct{ file, request, wanted string }

// outcome is what came of a picture, as scan_pictures has it.
type outcome struct {
	settled, sha256 string
	bytes           int64
	tag             string // in the picture
	measurement     sql.NullInt64
	verdict         sql.NullInt64
	tolerances      string
}

// measuredOf gives the outcomes of a scan's pictures that were measured.
func measuredOf(ctx context.Context, tx *sql.Tx, scan int64) (map[asked]outcome, error) {
	rows, err := tx.QueryContext(ctx, `SELECT p.file, p.request, p.wanted, p.settled, p.sha256, p.bytes, coalesce(json_extract(m.record, '$.tag'), ''),
		p.measurement, p.verdict, p.tolerances FROM scan_pictures p JOIN measurements m ON m.id = p.measurement WHERE p.scan = ?`, scan)
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }()
	done := map[asked]outcome{}
	for rows.Next() {
		var a asked
		var o outcome
		if err := rows.Scan(&a.file, &a.request, &a.wanted, &o.settled, &o.sha256, &o.bytes, &o.tag, &o.measurement, &o.verdict, &o.tolerances); err != nil {
			return nil, err
		}
		done[a] = o
	}
	return done, rows.Err()
}

func insertEntries(ctx context.Context, tx *sql.Tx, scan int64, entries []Entry, done map[asked]outcome) error {
	insert, err := tx.PrepareContext(ctx, `INSERT INTO scan_pictures (scan, position, file, string, crimp, crew, tool, trainee, made, own, note,
		origin, request, wanted, settled, sha256, bytes, tag, measurement, verdict, tolerances)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	if err != nil {
		return err
	}
	defer func() { _ = insert.Close() }()
	for _, e := range entries {
		wanted := quoteList(e.Tolerances)
		o := done[asked{e.File, e.Request, wanted}]
		o.tag = e.Label.Told(e.Origin, o.tag) // labels may have changed since
		l := e.Label
		if _, err := insert.ExecContext(ctx, scan, e.Position, e.File, l.String, l.Crimp, l.Crew, l.Tool, l.Trainee, l.Date, string(l.Own), l.Note,
			string(e.Origin), e.Request, wanted, o.settled, o.sha256, o.bytes, o.tag, o.measurement, o.verdict, o.tolerances); err != nil {
			return fmt.Errorf("picture %d, %q: %w", e.Position, e.File, err)
		}
	}
	return nil
}

// Append notes more pictures of a scan, at positions that are still free.
func (h *History) Append(ctx context.Context, scan int64, entries []Entry) error {
	return h.change(ctx, func(tx *sql.Tx) error { return insertEntries(ctx, tx, scan, entries, nil) })
}

// Reopen forgets which outcome pictures of a scan had, since other pictures have taken the places of their files. What was
// measured is kept and found again by Find.
func (h *History) Reopen(ctx context.Context, scan int64, positions []int) error {
	return h.change(ctx, func(tx *sql.Tx) error {
		for _, position := range positions {
			if _, err := tx.ExecContext(ctx, `UPDATE scan_pictures SET settled = '', sha256 = '', bytes = 0, tag = '', measurement = NULL, verdict = NULL,
				tolerances = '', failure = '' WHERE scan = ? AND position = ?`, scan, position); err != nil {
				return err
			}
		}
		return nil
	})
}

// Finish notes that a scan has come to its end; the same call of `scan` then begins a new one.
func (h *History) Finish(ctx context.Context, scan int64) error {
	if err := h.Present(); err != nil {
		return err
	}
	return h.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE scans SET finished = ? WHERE id = ? AND finished = ''`, stamp(h.now()), scan)
		return err
	})
}

// Pending gives the positions of which nothing has come yet, in order.
func (h *History) Pending(ctx context.Context, scan int64) ([]int, error) {
	rows, err := h.read.QueryContext(ctx, `SELECT position FROM scan_pictures WHERE scan = ? AND settled = '' ORDER BY position`, scan)
	if err != nil {
		return nil, h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	var positions []int
	for rows.Next() {
		var p int
		if err := rows.Scan(&p); err != nil {
			return nil, h.explain(err)
		}
		positions = append(positions, p)
	}
	return positions, h.explain(rows.Err())
}

const labelColumns = `p.string, p.crimp, p.crew, p.tool, p.trainee, p.made, p.own, p.note`

// labelInto gives where the columns of labelColumns go.
func labelInto(l *site.Label, own *string) []any {
	return []any{&l.String, &l.Crimp, &l.Crew, &l.Tool, &l.Trainee, &l.Date, own, &l.Note}
}

// Entries gives the light part of all pictures of a scan, in order, for grouping.
func (h *History) Entries(ctx context.Context, scan int64) ([]site.Entry, error) {
	rows, err := h.read.QueryContext(ctx, `SELECT p.position, p.origin, p.tag, p.settled <> '', p.failure <> '', p.sha256, `+
		labelColumns+` FROM scan_pictures p WHERE p.scan = ? ORDER BY p.position`, scan)
	if err != nil {
		return nil, h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	var entries []site.Entry
	for rows.Next() {
		var e site.Entry
		var own string
		if err := rows.Scan(append([]any{&e.Position, &e.Origin, &e.Tag, &e.Settled, &e.Failed, &e.SHA256}, labelInto(&e.Label, &own)...)...); err != nil {
			return nil, h.explain(err)
		}
		e.Label.Own = record.Result(own)
		entries = append(entries, e)
	}
	return entries, h.explain(rows.Err())
}

// Entry gives one picture of a scan as it was noted.
func (h *History) Entry(ctx context.Context, scan int64, position int) (Entry, error) {
	e := Entry{Position: position}
	var own, wanted string
	err := h.read.QueryRowContext(ctx, `SELECT p.file, p.origin, p.request, p.wanted, `+labelColumns+` FROM scan_pictures p WHERE p.scan = ? AND p.position = ?`,
		scan, position).Scan(append([]any{&e.File, &e.Origin, &e.Request, &wanted}, labelInto(&e.Label, &own)...)...)
	if errors.Is(err, sql.ErrNoRows) {
		return e, fmt.Errorf("history %q: scan %d has no picture %d", h.path, scan, position)
	}
	if err == nil {
		e.Label.Own = record.Result(own)
		e.Tolerances, err = unquoteList(wanted)
	}
	return e, h.explain(err)
}
