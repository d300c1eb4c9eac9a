package history

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

func openError(t *testing.T, path string, o Options) string {
	t.Helper()
	h, err := Open(context.Background(), path, o)
	if err == nil {
		_ = h.Close()
		require.Fail(t, "opened", "%q", path)
	}
	return err.Error()
}

func TestWhatIsNoHistoryIsRefused(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "text.db")
	require.NoError(t, os.WriteFile(text, []byte(strings.Repeat("no database at all\n", 1000)), 0o600))
	foreign := filepath.Join(dir, "foreign.db")
	db, err := sql.Open("sqlite", "file:"+foreign)
	require.NoError(t, err)
	_, err = db.Exec(`CREATE TABLE songs (name TEXT)`)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	empty := filepath.Join(dir, "empty.db")
	require.NoError(t, os.WriteFile(empty, nil, 0o600))

	for _, c := range []struct {
		path, want string
		readOnly   bool
	}{
		{"", "the history has no name: give the path of a file, such as site-history.db", false},
		{dir, "is a folder: name a file in it", false},
		{"postgres://db.example/site", `history "postgres://db.example/site": this version keeps histories in SQLite files only; give the path of a file`, false},
		{filepath.Join(dir, "none", "x.db"), "there is no folder", false},
		{filepath.Join(dir, strings.Repeat("x", 248)), "the name is too long for the disk", false},
		{filepath.Join(text, "x.db"), "cannot be reached: not a directory", false},
		{filepath.Join(dir, "none.db"), "there is no history", true},
		{text, "it is no history of this program, nor any SQLite database: name another file", false},
		{text, "it is no history of this program, nor any SQLite database: name another file", true},
		{foreign, "it is a database, but no history of this program: name another file", false},
		{foreign, "it is a database, but no history of this program: name another file", true},
		{"/dev/null", "is no ordinary file", false},
		{empty, "it is empty", true},
	} {
		got := openError(t, c.path, Options{ReadOnly: c.readOnly})
		assert.Contains(t, got, c.want)
		if c.path != "" {
			assert.Contains(t, got, c.path, "it quotes the location")
		}
	}
	_, err = os.Stat(filepath.Join(dir, "none.db"))
	assert.ErrorIs(t, err, os.ErrNotExist, "reading makes no file")
	after, err := os.ReadFile(text)
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(after), "no database at all"), "what is refused stays as it was")
	open(t, empty) // a new file from mktemp or touch is fine
}

func TestNewerAndOlderLayouts(t *testing.T) {
	for _, newer := range []string{`INSERT INTO goose_db_version (version_id, is_applied) VALUES (999, 1)`,
		`INSERT INTO river_migration (line, version) VALUES ('main', 999)`} {
		h := fresh(t)
		_, err := h.write.Exec(newer)
		require.NoError(t, err)
		path := h.Path()
		require.NoError(t, h.Close())
		for _, readOnly := range []bool{false, true} {
			got := openError(t, path, Options{ReadOnly: readOnly})
			assert.Contains(t, got, "was written by a newer version of this program: use that version, or name another file")
			assert.Contains(t, got, path)
		}
	}
	h := fresh(t)
	_, err := h.write.Exec(`DELETE FROM goose_db_version WHERE version_id > 0`)
	require.NoError(t, err)
	require.NoError(t, h.Close())
	assert.Contains(t, openError(t, h.Path(), Options{ReadOnly: true}), "open it once for writing")
}

func TestDamagedHistory(t *testing.T) {
	ctx, h := context.Background(), fresh(t)
	id := begin(t, h, someEntries(300))
	for n := range 300 {
		require.NoError(t, h.Settle(ctx, id, outcomeOf(n)))
	}
	require.NoError(t, h.Close())
	data, err := os.ReadFile(h.Path())
	require.NoError(t, err)
	for i := 4096; i < len(data); i++ {
		data[i] = byte(i * 7)
	}
	require.NoError(t, os.WriteFile(h.Path(), data, 0o600))
	assert.Contains(t, openError(t, h.Path(), Options{}), "it is damaged: restore it from a copy, or name another file")
}

// names are what files and labels may be called.
var names = []string{"two words.jpg", `"quoted" 'twice'.jpg`, "line\nbreak\ttab.jpg", "Kontakt-Ü-端子-🔩.jpg", "latin-\xe9\xff.jpg", "<b>&amp;.jpg", "a,b;c=d.jpg", "%41?x#y.jpg", " ", "-rf", "=1+1"}

func TestNamesComeBackByteByByte(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	for _, name := range names {
		folder := filepath.Join(dir, name)
		require.NoError(t, os.Mkdir(folder, 0o700))
		h := open(t, filepath.Join(folder, name+"-history.db"))
		scan := Scan{Source: "/site/" + name, Program: "v5", Order: "{}", Out: name}
		var entries []Entry
		for i, n := range names {
			label := site.Label{String: n, Crimp: n, Crew: n, Tool: n, Trainee: n, Date: n, Own: record.Result(n), Note: n}
			entries = append(entries, Entry{Position: i, File: "S\xff/" + n, Label: label, Origin: site.FromManifest, Request: n, Tolerances: names})
		}
		id, _, err := h.Begin(ctx, scan, entries)
		require.NoError(t, err)
		for i, e := range entries {
			require.NoError(t, h.Settle(ctx, id, Outcome{Position: i, Failure: e.File, Tag: e.File}))
			got, err := h.Entry(ctx, id, i)
			require.NoError(t, err)
			assert.Equal(t, e, got)
			p, err := h.Picture(ctx, id, i)
			require.NoError(t, err)
			assert.Equal(t, e.File, p.File)
			assert.Equal(t, e.File, p.Failure)
			assert.Equal(t, e.Label, p.Label)
			require.NoError(t, h.AddElsewhere(ctx, e.Label, site.Elsewhere{Key: "torque", Who: e.File, Note: e.File}))
			values, err := h.Elsewhere(ctx, e.Label, "")
			require.NoError(t, err)
			require.Len(t, values, 1)
			assert.Equal(t, e.File, values[0].Note)
			found, err := h.Named(ctx, e.Label.Crimp, "", "")
			require.NoError(t, err)
			require.Len(t, found, 1, "%q", e.Label.Crimp)
		}
		_, resumed, err := h.Begin(ctx, scan, entries)
		require.NoError(t, err)
		assert.True(t, resumed)
		_, err = os.Stat(filepath.Join(folder, name+"-history.db"))
		require.NoError(t, err, "the file has the name that was given")
		require.NoError(t, h.Close())
		back, err := Open(ctx, filepath.Join(folder, name+"-history.db"), Options{ReadOnly: true})
		require.NoError(t, err)
		require.NoError(t, back.Close())
	}
}

// Many handles open one new file at once: one of them lays it out, all of them work.
func TestMadeByManyAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "site-history.db")
	var wg sync.WaitGroup
	errs := make([]error, 8)
	for i := range errs {
		wg.Go(func() {
			h, err := Open(context.Background(), path, Options{})
			if err == nil {
				err = h.KeepTolerances(context.Background(), Tolerances{Hash: hash(i)})
				err = errors.Join(err, h.Close())
			}
			errs[i] = err
		})
	}
	wg.Wait()
	require.NoError(t, errors.Join(errs...))
	h := open(t, path)
	var kept int
	require.NoError(t, h.read.QueryRow(`SELECT count(*) FROM tolerances`).Scan(&kept))
	assert.Equal(t, len(errs), kept)
}

// Two handles, as of two processes, each with a scan of its own and its queue: both come to their end, nothing is lost.
func TestTwoScansOnOneHistory(t *testing.T) {
	ctx := context.Background()
	first := fresh(t)
	second := open(t, first.Path())
	const n = 150
	require.NoError(t, first.KeepTolerances(ctx, demoTolerances))
	var queues []*Queue
	var ids []int64
	for i, h := range []*History{first, second} {
		id, resumed, err := h.Begin(ctx, Scan{Source: names[i], Program: "v5"}, someEntries(n))
		require.NoError(t, err)
		require.False(t, resumed)
		q, err := h.NewQueue(ctx, id, QueueOptions{Workers: 2}, settleAll(h))
		require.NoError(t, err)
		require.NoError(t, q.Add(ctx, positions(n)))
		queues, ids = append(queues, q), append(ids, id)
	}
	for _, q := range queues {
		require.NoError(t, q.Start(ctx))
	}
	for i, q := range queues {
		waitUntil(t, "all are settled", nonePending(t, first, ids[i]))
		require.NoError(t, q.Stop(ctx))
	}
	var measurements, verdicts int
	require.NoError(t, first.read.QueryRow(`SELECT count(*), (SELECT count(*) FROM verdicts) FROM measurements`).Scan(&measurements, &verdicts))
	assert.Equal(t, n, measurements, "the same pictures: measured once each")
	assert.Equal(t, n, verdicts)
}

func TestReadOnly(t *testing.T) {
	ctx, h := context.Background(), fresh(t)
	id := begin(t, h, someEntries(2))
	require.NoError(t, h.Settle(ctx, id, outcomeOf(0)))
	before, err := os.Stat(h.Path())
	require.NoError(t, err)

	r, err := Open(ctx, h.Path(), Options{ReadOnly: true}) // beside one that writes
	require.NoError(t, err)
	p, err := r.Picture(ctx, id, 0)
	require.NoError(t, err)
	assert.Equal(t, hash(0), p.SHA256)
	for what, err := range map[string]error{
		"begin": func() error { _, _, err := r.Begin(ctx, demoScan, nil); return err }(), "append": r.Append(ctx, id, someEntries(1)),
		"settle": r.Settle(ctx, id, outcomeOf(1)), "finish": r.Finish(ctx, id), "tolerances": r.KeepTolerances(ctx, demoTolerances),
		"elsewhere": r.AddElsewhere(ctx, site.Label{}, site.Elsewhere{}), "queue": func() error { _, err := r.NewQueue(ctx, id, QueueOptions{}, nil); return err }(),
	} {
		assert.ErrorIs(t, err, ErrReadOnly, what)
		assert.ErrorContains(t, err, "is open for reading only, nothing can be added to it", what)
		assert.ErrorContains(t, err, r.Path(), what)
	}
	require.NoError(t, r.Close())
	after, err := os.Stat(h.Path())
	require.NoError(t, err)
	assert.Equal(t, before.Size(), after.Size())

	require.NoError(t, h.Close())
	r, err = Open(ctx, h.Path(), Options{ReadOnly: true})
	require.NoError(t, err)
	_, err = r.read.Exec(`DELETE FROM scans`)
	assert.ErrorContains(t, err, "readonly")
	require.NoError(t, r.Close())
	beside, err := os.ReadDir(filepath.Dir(h.Path()))
	require.NoError(t, err)
	assert.Len(t, beside, 1, "nothing is left beside it")
}
