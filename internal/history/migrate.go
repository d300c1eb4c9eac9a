package history

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"time"

	"github.com/pressly/goose/v3"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
)

//go:embed schema
var schemas embed.FS

// applicationID marks a SQLite database as one of ours ("crmp"), for everyone who opens it, file(1) too.
const applicationID = 0x63726d70

// errNewer says that a newer program has laid the history out, errForeign that it is something else's database,
// errEmpty that nothing has been laid out yet.
var (
	errNewer   = errors.New("it was written by a newer version of this program: use that version, or name another file")
	errForeign = errors.New("it is a database, but no history of this program: name another file")
	errEmpty   = errors.New("it is empty: name another file, or make a history with crimprule scan --history")
)

// layout is how far the tables of a history are, ours and the queue's.
type layout struct{ own, queue int64 }

// prepare looks what the file is and lays the tables out where need be.
func (h *History) prepare(ctx context.Context) error {
	migrations, queue, err := h.migrations()
	if err != nil {
		return err
	}
	sources := migrations.ListSources()
	want := layout{sources[len(sources)-1].Version, int64(queue.AllVersions()[len(queue.AllVersions())-1].Version)}
	if h.write == nil {
		have, err := laidOut(ctx, h.read)
		switch {
		case err != nil:
			return err
		case have == layout{}:
			return errEmpty
		case have.own > want.own || have.queue > want.queue:
			return errNewer
		case have.own < want.own:
			return fmt.Errorf("its layout is an older one (%d, not %d): open it once for writing, for instance with crimprule scan --history",
				have.own, want.own)
		}
		return nil
	}
	// Another process may lay the tables out at the same moment: then this one fails, looks again and finds them.
	for try := 0; ; try++ {
		have, err := laidOut(ctx, h.write)
		switch {
		case err != nil:
		case have.own > want.own || have.queue > want.queue:
			return errNewer
		case have == want:
			return h.probe(ctx)
		default:
			err = layOut(ctx, h.write, migrations, queue)
		}
		if err == nil {
			continue
		}
		if errors.Is(err, errForeign) || ctx.Err() != nil || try >= 5 || final(err) {
			return err
		}
		time.Sleep(time.Duration(50*(try+1)) * time.Millisecond)
	}
}

func (h *History) migrations() (*goose.Provider, *rivermigrate.Migrator[*sql.Tx], error) {
	db := h.write
	if db == nil {
		db = h.read
	}
	folder, err := fs.Sub(schemas, "schema/sqlite")
	if err != nil {
		return nil, nil, err
	}
	own, err := goose.NewProvider(goose.DialectSQLite3, db, folder, goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return nil, nil, err
	}
	queue, err := rivermigrate.New(riversqlite.New(db), &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
	return own, queue, err
}

// laidOut tells how far the tables are, without writing.
func laidOut(ctx context.Context, db *sql.DB) (layout, error) {
	var have layout
	var id, tables, known int64
	err := db.QueryRowContext(ctx, `SELECT (SELECT application_id FROM pragma_application_id),
		(SELECT count(*) FROM sqlite_master), (SELECT count(*) FROM sqlite_master WHERE name IN ('goose_db_version', 'river_migration'))`).
		Scan(&id, &tables, &known)
	switch {
	case err != nil:
		return have, err
	case id == 0 && tables == 0:
		return have, nil
	case id != applicationID:
		return have, errForeign
	case known == 0:
		return have, nil
	}
	own := `SELECT coalesce(max(version_id), 0) FROM goose_db_version WHERE is_applied`
	if err := db.QueryRowContext(ctx, own).Scan(&have.own); err != nil {
		return have, err
	}
	if known == 2 {
		err = db.QueryRowContext(ctx, `SELECT coalesce(max(version), 0) FROM river_migration`).Scan(&have.queue)
	}
	return have, err
}

func layOut(ctx context.Context, db *sql.DB, own *goose.Provider, queue *rivermigrate.Migrator[*sql.Tx]) error {
	for _, pragma := range []string{fmt.Sprintf("PRAGMA application_id = %d", applicationID), "PRAGMA journal_mode = WAL"} {
		if _, err := db.ExecContext(ctx, pragma); err != nil {
			return err
		}
	}
	if _, err := own.Up(ctx); err != nil {
		return err
	}
	_, err := queue.Migrate(ctx, rivermigrate.DirectionUp, nil)
	return err
}

// probe finds out whether the history can be written to: SQLite opens a file that cannot be for reading, silently, and
// lets a transaction begin there, but no statement that might write.
func (h *History) probe(ctx context.Context) error {
	_, err := h.write.ExecContext(ctx, `DELETE FROM runs WHERE id < 0`)
	return err
}
