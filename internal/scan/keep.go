package scan

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// readError marks an error of the picture's own side when bytes are copied, writeError one of ours.
type (
	readError  struct{ error }
	writeError struct{ error }
)

func (e readError) Unwrap() error  { return e.error }
func (e writeError) Unwrap() error { return e.error }

// keep copies bytes into a file of dir whose name follows from their SHA-256. It is there as a whole or not at all.
func keep(from io.Reader, dir string, name func(sha string) string) (sha string, size int64, err error) {
	temp, err := os.CreateTemp(dir, ".copy-*")
	if err != nil {
		return "", 0, writeError{err}
	}
	defer func() {
		if err != nil {
			_ = temp.Close()
			_ = os.Remove(temp.Name())
		}
	}()
	hash, buffer := sha256.New(), make([]byte, 1<<17)
	for {
		n, readErr := from.Read(buffer)
		hash.Write(buffer[:n])
		size += int64(n)
		if _, err := temp.Write(buffer[:n]); err != nil {
			return "", 0, writeError{err}
		}
		if errors.Is(readErr, io.EOF) {
			break
		}
		if readErr != nil {
			return "", 0, readError{readErr}
		}
	}
	sha = hex.EncodeToString(hash.Sum(nil))
	if err := errors.Join(temp.Chmod(0o644), temp.Close()); err != nil {
		return "", 0, writeError{err}
	}
	if err := os.Rename(temp.Name(), filepath.Join(dir, name(sha))); err != nil {
		return "", 0, writeError{err}
	}
	return sha, size, nil
}

// originalName is the name of a picture in the pack: its hash, and as much of its own name as any file system, archive
// and browser can stand.
func originalName(file, sha string) string {
	base := file[strings.LastIndexByte(file, '/')+1:]
	ext := filepath.Ext(base)
	stem := safeWord(strings.TrimSuffix(base, ext), 60)
	if stem != "" {
		stem = "-" + stem
	}
	if ext = safeWord(ext, 6); ext != "" {
		ext = "." + strings.ToLower(ext)
	}
	return sha[:16] + stem + ext
}

func safeWord(text string, longest int) string {
	word := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_':
			return r
		case r == '.':
			return -1
		}
		return '_'
	}, text)
	return word[:min(len(word), longest)]
}

// plainly takes the path from an error that is going to be quoted with a path anyway.
func plainly(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	var link *os.LinkError
	if errors.As(err, &link) {
		return link.Err
	}
	return err
}

// diskFull tells whether there was no room left.
func diskFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}
