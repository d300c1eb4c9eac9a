package history

import (
	"context"
	"database/sql"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// AddElsewhere keeps a value of a crimp that was measured elsewhere. Of the label, string, trainee and crimp count; ID and
// Added are given by the history.
func (h *History) AddElsewhere(ctx context.Context, label site.Label, e site.Elsewhere) error {
	return h.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO elsewhere (string, trainee, crimp, key, value, u, unit, who, done, note, added)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			label.String, label.Trainee, label.Crimp, string(e.Key), e.Value.Value, e.Value.U, e.Value.Unit, e.Who, e.When, e.Note, stamp(h.now()))
		return err
	})
}

// Elsewhere gives the values of a crimp that were measured elsewhere, in the order in which they were added. Of the label,
// string, trainee and crimp count.
func (h *History) Elsewhere(ctx context.Context, label site.Label) ([]site.Elsewhere, error) {
	if label.Crimp == "" {
		return nil, nil // a crimp without a name is no other one's
	}
	rows, err := h.read.QueryContext(ctx, `SELECT id, key, value, u, unit, who, done, note, added FROM elsewhere
		WHERE crimp = ? AND string = ? AND trainee = ? ORDER BY id`, label.Crimp, label.String, label.Trainee)
	if err != nil {
		return nil, h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	var all []site.Elsewhere
	for rows.Next() {
		var e site.Elsewhere
		var key, added string
		if err := rows.Scan(&e.ID, &key, &e.Value.Value, &e.Value.U, &e.Value.Unit, &e.Who, &e.When, &e.Note, &added); err != nil {
			return nil, h.explain(err)
		}
		e.Key, e.Added = record.Key(key), unstamp(added)
		all = append(all, e)
	}
	return all, h.explain(rows.Err())
}
