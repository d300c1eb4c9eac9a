package history

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// Tolerances is the text of a tolerances file. Hash is the SHA-256 of Text in hex, Name what the file calls itself, File
// its path.
type Tolerances struct{ Hash, Name, File, Text string }

// KeepTolerances keeps a tolerances file's text, once.
func (h *History) KeepTolerances(ctx context.Context, t Tolerances) error {
	return h.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO tolerances (hash, name, file, text, added) VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
			t.Hash, t.Name, t.File, t.Text, stamp(h.now()))
		return err
	})
}

// Tolerances gives a tolerances file by its hash.
func (h *History) Tolerances(ctx context.Context, hash string) (Tolerances, error) {
	t := Tolerances{Hash: hash}
	err := h.read.QueryRowContext(ctx, `SELECT name, file, text FROM tolerances WHERE hash = ?`, hash).Scan(&t.Name, &t.File, &t.Text)
	if errors.Is(err, sql.ErrNoRows) {
		return t, fmt.Errorf("history %q has no tolerances file of SHA-256 %q", h.path, hash)
	}
	return t, h.explain(err)
}
