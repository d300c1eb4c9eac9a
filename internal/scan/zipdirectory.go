package scan

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// readDirectory reads a ZIP's table of contents. Errors follow the ZIP's name. A table that is too long is refused
// before it is in memory: by what the ZIP says of its length, and, that being a lie, by the bytes read.
func readDirectory(file io.ReaderAt, size int64) (*zip.Reader, error) {
	n, err := declaredEntries(file, size)
	if err != nil {
		return nil, err
	}
	if n > maxEntries {
		return nil, tooMany(fmt.Sprint(n))
	}
	limited := &limitedReader{from: file, left: maxDirectory + 2*maxEnd}
	reader, err := zip.NewReader(limited, size)
	switch {
	case limited.over:
		return nil, tooMany("far more")
	case err != nil && !errors.Is(err, zip.ErrInsecurePath): // names are checked one by one
		return nil, brokenZIP(err)
	case len(reader.File) > maxEntries:
		return nil, tooMany(fmt.Sprint(len(reader.File)))
	}
	limited.left = -1
	return reader, nil
}

func tooMany(n string) error {
	return fmt.Errorf("has %s entries, and at most %d are read from a ZIP: unpack it and scan the folder, or pack fewer pictures into each ZIP", n, maxEntries)
}

func brokenZIP(err error) error {
	if errors.Is(err, zip.ErrFormat) {
		return errors.New("is not a ZIP, or its end is missing: copy it again, or unpack it elsewhere and scan the folder")
	}
	return fmt.Errorf("is broken (%w): copy it again, or unpack it elsewhere and scan the folder", err)
}

// limitedReader stops a reader that wants too much. A negative left means no limit any more.
type limitedReader struct {
	from io.ReaderAt
	left int64
	over bool
}

func (l *limitedReader) ReadAt(p []byte, at int64) (int, error) {
	if l.left >= 0 {
		if int64(len(p)) > l.left {
			l.over = true
			return 0, errors.New("its table of contents is too long")
		}
		l.left -= int64(len(p))
	}
	return l.from.ReadAt(p, at)
}

// The end of a ZIP; APPNOTE.TXT 4.3.14 to 4.3.16.
const (
	endRecord     = "PK\x05\x06"
	endRecord64   = "PK\x06\x06"
	endLocator64  = "PK\x06\x07"
	endBytes      = 22
	locatorBytes  = 20
	endBytes64    = 56
	maxEnd        = endBytes + 1<<16 // with the longest comment
	entriesInEnd  = 10
	entriesInEnd6 = 32
)

// declaredEntries is how many entries a ZIP says that it has.
func declaredEntries(file io.ReaderAt, size int64) (uint64, error) {
	tail := make([]byte, min(size, maxEnd))
	from := size - int64(len(tail))
	if _, err := file.ReadAt(tail, from); err != nil && !errors.Is(err, io.EOF) {
		return 0, brokenZIP(err)
	}
	at := bytes.LastIndex(tail, []byte(endRecord))
	if at < 0 || len(tail)-at < endBytes {
		return 0, brokenZIP(zip.ErrFormat)
	}
	n := uint64(binary.LittleEndian.Uint16(tail[at+entriesInEnd:]))
	if at < locatorBytes || !bytes.HasPrefix(tail[at-locatorBytes:], []byte(endLocator64)) {
		return n, nil
	}
	offset := binary.LittleEndian.Uint64(tail[at-locatorBytes+8:])
	record := make([]byte, endBytes64)
	if offset > uint64(size) { //nolint:gosec // a size is never negative
		return 0, brokenZIP(zip.ErrFormat)
	}
	if _, err := file.ReadAt(record, int64(offset)); err != nil || !bytes.HasPrefix(record, []byte(endRecord64)) { //nolint:gosec // at most size
		return n, nil // the reader will say what is wrong
	}
	return max(n, binary.LittleEndian.Uint64(record[entriesInEnd6:])), nil
}
