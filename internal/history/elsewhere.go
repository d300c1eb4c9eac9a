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

// AddElsewhere keeps a value of a crimp that was measured elsewhere. Of the label, string, trainee and crimp count; ID and
// Added are given by the history.
func (h *History) AddElsewhere(ctx context.Context, label site.Label, e site.Elsewhere) error {
	return h.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO elsewhere (string, trainee, crimp, key, value, u, unit, who, done, made, source, note, added)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			label.String, label.Trainee, label.Crimp, string(e.Key), e.Value.Value, e.Value.U, e.Value.Unit, e.Who, e.When, e.Made, e.Source, e.Note, stamp(h.now()))
		return err
	})
}

// Elsewhere gives the values of a crimp that were measured elsewhere, in the order in which they were added. Of the label,
// string, trainee and crimp count; source is where the crimp was scanned: values of a crimp of that name in another place are
// left out (see kinship), those of which nobody said where are of every place.
func (h *History) Elsewhere(ctx context.Context, label site.Label, source string) ([]site.Elsewhere, error) {
	return h.elsewhere(ctx, label, source, nil)
}

// elsewhere is Elsewhere; kin may be nil, and is made then where it is needed.
func (h *History) elsewhere(ctx context.Context, label site.Label, source string, kin *kinship) ([]site.Elsewhere, error) {
	if label.Crimp == "" {
		return nil, nil // a crimp without a name is no other one's
	}
	all, err := h.named(ctx, label)
	if err != nil {
		return nil, err
	}
	var here []site.Elsewhere
	for _, e := range all {
		same := e.Source == "" || e.Source == source
		if !same {
			if kin == nil {
				if kin, err = h.newKinship(ctx); err != nil {
					return nil, err
				}
			}
			if same, err = kin.samePlace(ctx, label, e.Source, source); err != nil {
				return nil, err
			}
		}
		if same {
			here = append(here, e)
		}
	}
	return here, nil
}

// named gives the values of all crimps of a name.
func (h *History) named(ctx context.Context, label site.Label) ([]site.Elsewhere, error) {
	rows, err := h.read.QueryContext(ctx, `SELECT `+elsewhereColumns+` WHERE e.crimp = ? AND e.string = ? AND e.trainee = ? ORDER BY e.id`,
		label.Crimp, label.String, label.Trainee)
	if err != nil {
		return nil, h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	var all []site.Elsewhere
	for rows.Next() {
		_, e, err := scanElsewhere(rows)
		if err != nil {
			return nil, h.explain(err)
		}
		all = append(all, e)
	}
	return all, h.explain(rows.Err())
}

// elsewhereColumns are those that scanElsewhere reads, and where they come from.
const elsewhereColumns = `e.string, e.trainee, e.crimp, e.id, e.key, e.value, e.u, e.unit, e.who, e.done, e.made, e.source, e.note, e.added,
	w.who, w.note, w.added FROM elsewhere e LEFT JOIN withdrawals w ON w.elsewhere = e.id`

func scanElsewhere(row interface{ Scan(to ...any) error }) (site.Label, site.Elsewhere, error) {
	var l site.Label
	var e site.Elsewhere
	var key, added string
	var who, why, when sql.NullString
	err := row.Scan(&l.String, &l.Trainee, &l.Crimp, &e.ID, &key, &e.Value.Value, &e.Value.U, &e.Value.Unit, &e.Who, &e.When, &e.Made, &e.Source, &e.Note, &added,
		&who, &why, &when)
	e.Key, e.Added = record.Key(key), unstamp(added)
	if when.Valid {
		e.Withdrawn = fmt.Sprintf("withdrawn by %s on %s: %s", who.String, unstamp(when.String).Format(time.DateOnly), why.String)
	}
	return l, e, err
}

// Value is a value measured elsewhere, and of which crimp: of the label there are string, trainee and crimp.
type Value struct {
	Label site.Label
	site.Elsewhere
}

// Values gives all values measured elsewhere, the latest first.
func (h *History) Values(ctx context.Context, each func(Value) error) error {
	return h.stream(ctx, `SELECT `+elsewhereColumns+` ORDER BY e.id DESC`, func(rows *sql.Rows) error {
		l, e, err := scanElsewhere(rows)
		if err != nil {
			return h.explain(err)
		}
		return each(Value{l, e})
	})
}

// Value gives one value by its number; false where there is none.
func (h *History) Value(ctx context.Context, id int64) (Value, bool, error) {
	l, e, err := scanElsewhere(h.read.QueryRowContext(ctx, `SELECT `+elsewhereColumns+` WHERE e.id = ?`, id))
	if errors.Is(err, sql.ErrNoRows) {
		return Value{}, false, nil
	}
	return Value{l, e}, err == nil, h.explain(err)
}

// ErrWithdrawn says that a value had been withdrawn before.
var ErrWithdrawn = errors.New("it was withdrawn before")

// Withdraw notes that a value measured elsewhere no longer counts, who says so and why. The value stays where it is.
func (h *History) Withdraw(ctx context.Context, id int64, who, why string) error {
	return h.change(ctx, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, `INSERT INTO withdrawals (elsewhere, who, note, added) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING`, id, who, why, stamp(h.now()))
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 1 {
			return err
		}
		return ErrWithdrawn
	})
}
