package history

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"

	"crimprule/internal/likeness"
	"crimprule/vision/record"
)

// HasLook tells whether the history knows what a picture looks like.
func (h *History) HasLook(ctx context.Context, sha256 string) (bool, error) {
	var n int
	err := h.read.QueryRowContext(ctx, `SELECT count(*) FROM looks WHERE sha256 = ?`, sha256).Scan(&n)
	return n > 0, h.explain(err)
}

func keepLook(ctx context.Context, tx *sql.Tx, sha256 string, look *likeness.Look) error {
	if look == nil || sha256 == "" {
		return nil
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO looks (sha256, method, pixels, tiny, small) VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
		sha256, likeness.Method, look.Pixels, look.Tiny, look.Small)
	return err
}

// FindCopies compares the pictures of a scan that were not compared yet with all that are known, and notes which are copies. Only
// pictures with values are compared: the others prove nothing.
func (h *History) FindCopies(ctx context.Context, scan int64) error {
	var open []look
	seen := map[string]bool{}
	err := h.looks(ctx, `FROM scan_pictures p JOIN looks l ON l.sha256 = p.sha256 JOIN measurements m ON m.id = p.measurement
		WHERE l.method = ?1 AND p.scan = ?2 AND NOT m.refused AND NOT EXISTS (SELECT 1 FROM alike a WHERE a.sha256 = l.sha256) ORDER BY p.position`, scan, func(l look) {
		if !seen[l.sha256] {
			seen[l.sha256] = true
			open = append(open, l)
		}
	})
	if err != nil || len(open) == 0 {
		return err
	}
	album := likeness.Album{Small: func(sha256 string) (small []byte, err error) {
		err = h.read.QueryRowContext(ctx, `SELECT small FROM looks WHERE sha256 = ?`, sha256).Scan(&small)
		return small, err
	}}
	err = h.looks(ctx, `FROM alike a JOIN looks l ON l.sha256 = a.sha256
		JOIN measurements m ON m.id = (SELECT max(id) FROM measurements WHERE sha256 = l.sha256 AND NOT refused)
		WHERE l.method = ?1 AND ?2 >= 0 AND a.first = a.sha256 ORDER BY m.id`, scan, func(l look) { album.Add(l.sha256, l.Look, l.record) })
	if err != nil {
		return err
	}
	found := make([]alike, len(open))
	for i, l := range open {
		first, equal, copied, err := album.Find(l.sha256, l.Look, l.record)
		if err != nil {
			return h.explain(err)
		}
		if !copied {
			first = l.sha256
		}
		found[i] = alike{l.sha256, first, equal}
	}
	return h.change(ctx, func(tx *sql.Tx) error {
		for _, a := range found {
			if _, err := tx.ExecContext(ctx, `INSERT INTO alike (sha256, first, equal) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`, a.sha256, a.first, a.equal); err != nil {
				return err
			}
		}
		return nil
	})
}

type alike struct {
	sha256, first string
	equal         bool
}

// look is what a picture looks like, and its values.
type look struct {
	likeness.Look
	sha256 string
	record record.Record
}

// looks calls each with the looks that a query gives, which begins with FROM.
func (h *History) looks(ctx context.Context, from string, scan int64, each func(look)) error {
	rows, err := h.read.QueryContext(ctx, `SELECT l.sha256, l.pixels, l.tiny, m.view, m.record `+from, likeness.Method, scan)
	if err != nil {
		return h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		var l look
		var text sql.RawBytes
		if err := rows.Scan(&l.sha256, &l.Pixels, &l.Tiny, &l.record.View, &text); err != nil {
			return h.explain(err)
		}
		var values struct {
			Measured map[record.Key]record.Value `json:"measured"`
		}
		if err := json.Unmarshal(text, &values); err != nil {
			return fmt.Errorf("a record cannot be read: %w", err)
		}
		l.record.Measured = likeness.Told(values.Measured)
		each(l)
	}
	return h.explain(rows.Err())
}
