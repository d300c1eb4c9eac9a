package history

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"
)

// Fault is what went wrong with the history as a whole: its disk, its file, its layout. Every further call will meet it
// too, so a scan ends on it.
type Fault struct {
	Path string
	Do   string // what is wrong and what to do
	Err  error
}

func (f *Fault) Error() string { return fmt.Sprintf("history %q: %s", f.Path, f.Do) }

// Unwrap gives the cause.
func (f *Fault) Unwrap() error { return f.Err }

// What SQLite says, and what it means to a person. Extended codes are cut to their lower byte.
var faults = map[int]string{
	lib.SQLITE_FULL:     "its disk is full: free some space and call again; what was kept so far is whole",
	lib.SQLITE_READONLY: "it cannot be written to: allow writing to the file and its folder, or name another file",
	lib.SQLITE_CANTOPEN: "it cannot be opened, or the files that SQLite keeps beside it cannot be made: allow writing to the file and its folder, or name another file",
	lib.SQLITE_PERM:     "it may not be opened: allow it, or name another file",
	lib.SQLITE_AUTH:     "it may not be opened: allow it, or name another file",
	lib.SQLITE_NOTADB:   "it is no history of this program, nor any SQLite database: name another file",
	lib.SQLITE_CORRUPT:  "it is damaged: restore it from a copy, or name another file",
	lib.SQLITE_BUSY:     "another program has been writing to it for more than 30 seconds: wait until that has finished, and call again",
	lib.SQLITE_LOCKED:   "another program has been writing to it for more than 30 seconds: wait until that has finished, and call again",
	lib.SQLITE_IOERR:    "its disk cannot be read or written: see to the disk or the network that it is on, and call again",
}

// The same, as it comes out of the queue, which hands on texts only.
var faultTexts = map[string]int{
	"disk is full": lib.SQLITE_FULL, "readonly database": lib.SQLITE_READONLY, "disk I/O error": lib.SQLITE_IOERR,
	"malformed": lib.SQLITE_CORRUPT, "unable to open": lib.SQLITE_CANTOPEN,
}

// explain turns an error of the database into one that a person can do something about. Other errors stay as they are.
func (h *History) explain(err error) error {
	var fault *Fault
	var busy *RunningError
	switch {
	case err == nil, errors.As(err, &fault), errors.As(err, &busy), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.Is(err, errNewer), errors.Is(err, errForeign), errors.Is(err, errEmpty):
		return &Fault{h.path, err.Error(), err}
	case errors.Is(err, ErrReadOnly):
		return &Fault{h.path, "it is open for reading only, nothing can be added to it", err}
	}
	if do, known := faults[sqliteCode(err)]; known {
		return h.fault(do, err)
	}
	return fmt.Errorf("history %q: %w", h.path, err)
}

// explainText is explain for what the queue logs; nil where it is no fault of the whole.
func (h *History) explainText(text string) error {
	for part, code := range faultTexts {
		if strings.Contains(text, part) {
			return h.fault(faults[code], errors.New(text))
		}
	}
	return nil
}

// fault is a Fault, by what it comes from where the file is not there any more.
func (h *History) fault(do string, err error) error {
	if gone := h.Present(); gone != nil {
		return gone
	}
	return &Fault{h.path, do, err}
}

// final tells whether trying again is of no use.
func final(err error) bool {
	switch sqliteCode(err) {
	case lib.SQLITE_FULL, lib.SQLITE_READONLY, lib.SQLITE_CANTOPEN, lib.SQLITE_PERM, lib.SQLITE_NOTADB, lib.SQLITE_CORRUPT:
		return true
	}
	return false
}

// sqliteCode is SQLite's primary result code, 0 where the error is none of SQLite's.
func sqliteCode(err error) int {
	var fault *sqlite.Error
	if !errors.As(err, &fault) {
		return 0
	}
	return fault.Code() & 0xff
}
