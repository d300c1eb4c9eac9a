package history

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"path/filepath"
	"testing"

	"github.com/pressly/goose/v3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/elsewhere"
	"crimprule/internal/site"
	"crimprule/vision/record"
)

// A history that an earlier version laid out is brought up to date, and what it holds stays: a value of which nobody could
// say yet of which day or place its crimp is, counts for every one of its name.
func TestAHistoryOfAnEarlierLayoutGoesOn(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "site-history.db")
	db, err := sql.Open("sqlite", dsn(path, "rwc", "foreign_keys(1)"))
	require.NoError(t, err)
	folder, err := fs.Sub(schemas, "schema/sqlite")
	require.NoError(t, err)
	old, err := goose.NewProvider(goose.DialectSQLite3, db, folder, goose.WithDisableGlobalRegistry(true))
	require.NoError(t, err)
	_, err = old.UpTo(ctx, 2)
	require.NoError(t, err)
	_, err = db.ExecContext(ctx, `INSERT INTO elsewhere (string, trainee, crimp, key, value, u, unit, who, done, note, added)
		VALUES ('S07', '', '04', 'pull_out_force', 320, 5, 'N', 'crew A', '2026-11-20', 'slow', '2026-11-20T10:00:00.000000000Z'); PRAGMA application_id = `+fmt.Sprint(applicationID))
	require.NoError(t, err)
	require.NoError(t, db.Close())

	_, err = Open(ctx, path, Options{ReadOnly: true})
	assert.ErrorContains(t, err, "its layout is an older one")
	h := open(t, path)
	label := site.Label{String: "S07", Crimp: "04"}
	force := site.Elsewhere{ID: 1, Key: elsewhere.PullOutForce, Value: record.Value{Value: 320, U: 5, Unit: "N"}, Who: "crew A", When: "2026-11-20", Note: "slow",
		Added: unstamp("2026-11-20T10:00:00.000000000Z")}
	values, err := h.Elsewhere(ctx, label, "")
	require.NoError(t, err)
	assert.Equal(t, []site.Elsewhere{force}, values)
	force.Made = "2026-11-19"
	require.NoError(t, h.AddElsewhere(ctx, label, force))
	values, err = h.Elsewhere(ctx, label, "")
	require.NoError(t, err)
	require.Len(t, values, 2)
	assert.Equal(t, "2026-11-19", values[1].Made)
}
