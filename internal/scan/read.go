package scan

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
)

// maxText is the size in bytes over which no file that a manifest names is read; a tolerances file has a few thousand.
const maxText = 1 << 20

// Read gives the content of a file that a manifest names: a path on the disk, or one that goes on from a ZIP's own path
// into it.
func (l *Listing) Read(name string) ([]byte, error) {
	data, err := l.read(name, maxText)
	if err != nil {
		return nil, fmt.Errorf("%q %w", name, err)
	}
	return data, nil
}

// read is Read up to a size; its errors follow the name.
func (l *Listing) read(name string, most int64) ([]byte, error) {
	file, size, err := l.openText(name)
	if err != nil {
		return nil, err
	}
	defer func() { _ = file.Close() }()
	if size > most {
		return nil, tooLong(size, most)
	}
	data, err := io.ReadAll(io.LimitReader(file, most+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("cannot be read: %w", err)
	case int64(len(data)) > most:
		return nil, tooLong(int64(len(data)), most)
	}
	return data, nil
}

func tooLong(size, most int64) error {
	return fmt.Errorf("has %d bytes, more than the %d that are read of such a file: check that it is the right one", size, most)
}

// openText opens a file on the disk or in a ZIP; its errors follow the name.
func (l *Listing) openText(name string) (io.ReadCloser, int64, error) {
	if a, entry := l.inZIP(name); a != nil {
		f := a.entries[entry]
		if f == nil {
			return nil, 0, errors.New("is not in the ZIP, or cannot be read there: pack it into the ZIP")
		}
		r, err := openEntry(entry, f)
		return r, int64(min(f.UncompressedSize64, 1<<62)), err //nolint:gosec // bounded
	}
	info, err := os.Stat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, 0, errors.New("does not exist: check the path")
	case err != nil:
		return nil, 0, fmt.Errorf("cannot be opened: %w", err)
	case info.IsDir():
		return nil, 0, errors.New("is a folder: name the file in it")
	case !info.Mode().IsRegular():
		return nil, 0, errors.New("is not a regular file: save it to one")
	}
	file, err := openFile(name, name)
	return file, info.Size(), err
}

// inZIP takes a path apart that leads into a ZIP.
func (l *Listing) inZIP(name string) (a *archive, entry string) {
	for _, a := range l.archives {
		if rest, in := strings.CutPrefix(name, a.root.path+"/"); in {
			return a, rest
		}
	}
	return nil, ""
}

// beside gives the path of a file that a manifest names relative to itself; it must be there. The error follows the
// path as it was written.
func (l *Listing) beside(manifest, file string) (string, error) {
	file = filepath.FromSlash(strings.ReplaceAll(file, `\`, "/"))
	full := file
	if !filepath.IsAbs(full) {
		full = filepath.Join(filepath.Dir(manifest), file)
	}
	if a, _ := l.inZIP(manifest); a != nil {
		if inside, _ := l.inZIP(full); inside != a || filepath.IsAbs(file) {
			return "", errors.New("lies outside of the ZIP: pack it into the ZIP")
		}
		full = a.root.path + "/" + path.Clean(full[len(a.root.path)+1:])
	}
	f, _, err := l.openText(full)
	if err != nil {
		return "", err
	}
	return full, f.Close()
}
