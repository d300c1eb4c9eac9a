package history

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"

	_ "modernc.org/sqlite" // the driver "sqlite"
)

// Options say how a history is opened.
type Options struct {
	ReadOnly bool             // nothing is written
	Existing bool             // no history is made where there is none, as with ReadOnly
	Now      func() time.Time // the clock of what is noted; time.Now where nil
}

// History is an open history. Its methods may be called from several goroutines, and several processes may have one
// file open at once.
type History struct {
	path  string      // as the user named it
	at    string      // absolute
	file  os.FileInfo // of the file that is open, to tell it from one that takes its place
	now   func() time.Time
	write *sql.DB // one connection: SQLite has one writer; nil where read-only
	read  *sql.DB

	mu   sync.Mutex
	runs map[int64]bool // this handle's runs that are not ended
}

// ErrReadOnly is what a call that would write meets in a history that was opened read-only.
var ErrReadOnly = errors.New("the history is open for reading only")

// Open opens the history at location, the path of a file, and makes it if there is none. An older layout is brought up
// to date; a newer one is refused. Every error quotes the location and says what to do.
func Open(ctx context.Context, location string, o Options) (*History, error) {
	if err := checkLocation(location, o.ReadOnly || o.Existing); err != nil {
		return nil, err
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	h := &History{path: location, now: o.Now, runs: map[int64]bool{}}
	absolute, err := filepath.Abs(location)
	if err != nil {
		return nil, fmt.Errorf("history %q: %w; name it by its full path", location, err)
	}
	if err := h.connect(absolute, o.ReadOnly); err != nil {
		return nil, h.explain(err)
	}
	if err := h.prepare(ctx); err != nil {
		_ = h.Close()
		return nil, h.explain(err)
	}
	if h.file, err = os.Stat(absolute); err != nil {
		return nil, errors.Join(h.gone(err), h.Close())
	}
	h.at = absolute
	return h, nil
}

// Present is a Fault where the file that is open lies no longer at its path: what is written goes nowhere then.
func (h *History) Present() error {
	if h.file == nil {
		return nil // it is being opened
	}
	now, err := os.Stat(h.at)
	switch {
	case errors.Is(err, os.ErrNotExist), err == nil && !os.SameFile(now, h.file):
		return h.gone(err)
	}
	return nil
}

func (h *History) gone(err error) error {
	return &Fault{h.path, "it was deleted or replaced while it was in use, so that what was measured in this call is lost: leave the file alone while " +
		"crimprule runs, and call again", err}
}

// longestSuffix is the longest that SQLite adds to a database's name for the files that it keeps beside it.
const longestSuffix = "-journal"

// checkLocation refuses what can be no history before anything is touched. It does not open the file: closing it again
// would take away the locks that this process may hold on it through another handle (POSIX).
func checkLocation(location string, existing bool) error {
	if location == "" {
		return errors.New("the history has no name: give the path of a file, such as site-history.db")
	}
	if scheme, _, found := strings.Cut(location, "://"); found && !strings.ContainsAny(scheme, `/\ `) {
		return fmt.Errorf("history %q: this version keeps histories in SQLite files only; give the path of a file, such as site-history.db", location)
	}
	if _, err := os.Lstat(location + longestSuffix); errors.Is(err, syscall.ENAMETOOLONG) {
		return fmt.Errorf("history %q: the name is too long for the disk, where SQLite needs %d letters more for a file beside it; name a shorter one", location, len(longestSuffix))
	}
	info, err := os.Stat(location)
	switch {
	case err == nil && info.IsDir():
		return fmt.Errorf("history %q is a folder: name a file in it, such as %q", location, filepath.Join(location, "site-history.db"))
	case err == nil && !info.Mode().IsRegular():
		return fmt.Errorf("history %q is no ordinary file: name another one, such as site-history.db", location)
	case err == nil:
		return nil
	case !errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("history %q cannot be reached: %w; mend that, or name another file", location, errors.Unwrap(err))
	case existing:
		return fmt.Errorf("there is no history %q: look for typing mistakes, or make it with crimprule scan --history", location)
	}
	if info, err := os.Stat(filepath.Dir(location)); err != nil || !info.IsDir() {
		return fmt.Errorf("history %q: there is no folder %q; make it first, or name another file", location, filepath.Dir(location))
	}
	return nil
}

func (h *History) connect(absolute string, readOnly bool) error {
	var err error
	if !readOnly {
		if h.write, err = sql.Open("sqlite", dsn(absolute, "rwc", "synchronous(NORMAL)", "foreign_keys(1)")); err != nil {
			return err
		}
		h.write.SetMaxOpenConns(1)
	}
	mode := "ro"
	if readOnly {
		mode = readingMode(absolute)
	}
	if h.read, err = sql.Open("sqlite", dsn(absolute, mode, "query_only(1)", "cache_size(-1000)")); err != nil {
		return err
	}
	h.read.SetMaxOpenConns(4)
	return nil
}

// readingMode is how SQLite is to open a history that is only read. It keeps files beside it (WAL), also for reading.
func readingMode(absolute string) string {
	folder := canWrite(filepath.Dir(absolute))
	switch {
	case folder && canWrite(absolute):
		return "rw" // so that it takes these files away again; query_only keeps it from writing anything else
	case folder || hasLog(absolute):
		return "ro"
	}
	return "ro&immutable=1" // they cannot be made here, and nobody writes
}

// dsn names a SQLite database for its driver. Transactions are immediate: they wait for the write lock when they begin,
// not half way through, where waiting would help no more.
func dsn(absolute, mode string, pragmas ...string) string {
	u := url.URL{Scheme: "file", Path: filepath.ToSlash(absolute)}
	var b strings.Builder
	b.WriteString(u.String())
	b.WriteString("?mode=" + mode + "&_txlock=immediate&_pragma=busy_timeout(30000)")
	for _, p := range pragmas {
		b.WriteString("&_pragma=" + p)
	}
	return b.String()
}

// hasLog tells whether there is a write-ahead log with something in it beside the history.
func hasLog(absolute string) bool {
	info, err := os.Stat(absolute + "-wal")
	return err == nil && info.Size() > 0
}

// Close closes the history. Queues must have been stopped.
func (h *History) Close() error {
	h.endRuns(context.Background())
	var errs []error
	if h.read != nil {
		errs = append(errs, h.read.Close())
	}
	if h.write != nil {
		errs = append(errs, h.write.Close())
	}
	return errors.Join(errs...)
}

// Path is where the history is, as it was named when it was opened.
func (h *History) Path() string { return h.path }

// change does something in one transaction that writes.
func (h *History) change(ctx context.Context, do func(*sql.Tx) error) error {
	if h.write == nil {
		return h.explain(ErrReadOnly)
	}
	tx, err := h.write.BeginTx(ctx, nil)
	if err != nil {
		return h.explain(err)
	}
	defer func() { _ = tx.Rollback() }() // nothing after a commit
	if err := do(tx); err != nil {
		return h.explain(err)
	}
	return h.explain(tx.Commit())
}

const timeLayout = "2006-01-02T15:04:05.000000000Z"

// stamp is a time as the tables have it.
func stamp(t time.Time) string { return t.UTC().Format(timeLayout) }

// unstamp is the other way; the zero time where there is none.
func unstamp(s string) time.Time {
	t, err := time.Parse(timeLayout, s)
	if err != nil {
		return time.Time{}
	}
	return t
}
