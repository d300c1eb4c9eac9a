package history

import (
	"context"
	"database/sql"
	"errors"
)

// Renew ends a scan as it is and begins another one of equal Source, Program, Order and Out with other entries: what was
// measured of a file that is still asked for in the same way is kept, but for the positions (of entries) in anew. So Missing can
// tell what the ended scan had. No queue may be working on it.
func (h *History) Renew(ctx context.Context, scan int64, entries []Entry, anew []int) (id int64, err error) {
	err = h.change(ctx, func(tx *sql.Tx) error {
		now := stamp(h.now())
		done, err := measuredOf(ctx, tx, scan)
		if err != nil {
			return err
		}
		for _, position := range anew {
			e := entries[position]
			delete(done, asked{e.File, e.Request, quoteList(e.Tolerances)})
		}
		if _, err := tx.ExecContext(ctx, `UPDATE scans SET finished = ? WHERE id = ? AND finished = ''`, now, scan); err != nil {
			return err
		}
		result, err := tx.ExecContext(ctx, `INSERT INTO scans (source, program, orders, output, started)
			SELECT source, program, orders, output, ? FROM scans WHERE id = ?`, now, scan)
		if err != nil {
			return err
		}
		if id, err = result.LastInsertId(); err != nil {
			return err
		}
		return insertEntries(ctx, tx, id, entries, done)
	})
	return id, err
}

// SourceOf gives the source of the latest scan whose evidence went to a folder; empty where there is none.
func (h *History) SourceOf(ctx context.Context, out string) (source string, err error) {
	err = h.read.QueryRowContext(ctx, `SELECT source FROM scans WHERE output = ? ORDER BY id DESC LIMIT 1`, out).Scan(&source)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return source, h.explain(err)
}
