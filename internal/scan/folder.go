package scan

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"crimprule/internal/evidence"
	"crimprule/internal/site"
)

// folder lists a folder and what lies below it.
func (c *collection) folder(dir, realDir, prefix string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		name := strings.TrimSuffix(prefix, "/")
		c.refuse(name, unreadable(name, err))
	}
	for _, e := range entries {
		name := prefix + e.Name()
		path, realPath := filepath.Join(dir, e.Name()), filepath.Join(realDir, e.Name())
		switch {
		case e.IsDir():
			if hidden(e.Name()) || c.skip[realPath] || isPack(path) {
				continue
			}
			if looksLike(name) {
				c.refuse(name, irregular(name, e.Type()))
			}
			c.folder(path, realPath, name+"/")
		case hidden(e.Name()) || !looksLike(name):
			c.listing.LeftAlone++
		case e.Type()&fs.ModeSymlink != 0:
			c.link(path, name)
		default:
			if info, err := e.Info(); err != nil {
				c.refuse(name, unreadable(name, err))
			} else {
				c.fileAt(path, realPath, name, info)
			}
		}
	}
}

// link lists the file that a link leads to.
func (c *collection) link(path, name string) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		c.refuse(name, problem(name, "is a link to a file that does not exist", "copy the picture itself there, or delete the link"))
	case err != nil:
		c.refuse(name, unreadable(name, err))
	case info.IsDir():
		c.refuse(name, problem(name, "is a link to a folder, which is not followed", "name that folder itself"))
	default:
		c.file(path, name, info)
	}
}

// file lists a file that may be a link.
func (c *collection) file(path, name string, info fs.FileInfo) {
	c.fileAt(path, real(path), name, info)
}

// fileAt lists a file, unless it is listed already.
func (c *collection) fileAt(path, realPath, name string, info fs.FileInfo) {
	if listed, twice := c.taken[realPath]; twice {
		if listed != name {
			c.same[name] = listed
		}
		return
	}
	c.taken[realPath] = name
	f := Found{File: name, Path: path, Size: info.Size(), changed: info.ModTime(), Problem: unread(name), open: func() (io.ReadCloser, error) { return openFile(path, name) }}
	switch why := irregular(name, info.Mode()); {
	case f.Problem != "":
	case why != "":
		f.Problem = why
	case info.Size() == 0:
		f.Problem = empty(name)
	case info.Mode().Perm()&0o444 == 0: // whether others may read it, opening it will tell
		if file, err := f.open(); err != nil {
			f.Problem = err.Error()
		} else {
			_ = file.Close()
		}
	}
	c.add(f)
}

// openFile opens a regular file. What became a pipe since it was listed does not make it wait.
func openFile(path, name string) (io.ReadCloser, error) {
	file, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, errors.New(unreadable(name, err))
	}
	info, err := file.Stat()
	if err == nil && info.Mode().IsRegular() {
		return file, nil
	}
	_ = file.Close()
	if err != nil {
		return nil, errors.New(unreadable(name, err))
	}
	return nil, errors.New(irregular(name, info.Mode()))
}

// isPack tells whether a folder holds the evidence of a scan.
func isPack(dir string) bool {
	for _, name := range []string{evidence.ManifestName, evidence.RecordsName} {
		if _, err := os.Lstat(filepath.Join(dir, name)); err != nil {
			return false
		}
	}
	return true
}

// dropOriginals leaves alone what is not read where the same picture lies beside it in a format that is: cameras keep
// their raw file that way, phones their HEIC. Where the manifest names it, it stays and is told of.
func (c *collection) dropOriginals() {
	read := map[string]bool{}
	for _, f := range c.listing.Files {
		if f.Problem == "" {
			read[stem(f.File)] = true
		}
	}
	before := len(c.listing.Files)
	c.listing.Files = slices.DeleteFunc(c.listing.Files, func(f Found) bool {
		return unread(f.File) != "" && read[stem(f.File)] && f.Origin != site.FromManifest
	})
	c.listing.LeftAlone += before - len(c.listing.Files)
}
