package scan

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"crimprule/internal/evidence"
)

// takeOver links what the pack that stands at the place has of pictures and drawings; the files are never changed, only
// replaced, so that two packs may share them. Only what its manifest names is taken. Whether a file is still what the
// manifest says shows when the new manifest is written, which reads them all: see changed. Reading them here as well would
// cost as much again, some minutes for ten thousand pictures.
func (p *place) takeOver() error {
	p.taken = map[string]string{}
	sums, err := evidence.Sums(p.path)
	if err != nil {
		return nil // there is no pack
	}
	for name, sum := range sums {
		dir, _, _ := strings.Cut(name, "/")
		from, to := filepath.Join(p.path, filepath.FromSlash(name)), p.at(name)
		if !slices.Contains(gathered, dir) || filepath.Dir(to) != p.at(dir) {
			continue
		}
		info, err := os.Lstat(from)
		if err != nil || !info.Mode().IsRegular() {
			continue // it is gone
		}
		ours, err := os.Lstat(to)
		if err == nil && !os.SameFile(info, ours) {
			continue // made anew
		}
		if err != nil && os.Link(from, to) != nil {
			if err := copyWhole(from, to, sum); err != nil {
				return err
			}
			continue
		}
		p.taken[name] = sum
	}
	return nil
}

// copyWhole copies a file where it cannot be linked, if it has this SHA-256.
func copyWhole(from, to, sum string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }()
	got, _, err := keep(in, filepath.Dir(to), func(string) string { return filepath.Base(to) })
	if err == nil && got != sum {
		err = os.Remove(to)
	}
	return err
}

// changed looks into the manifest that was just written for files that were taken over and are no more what the pack had
// that they came from. They are removed, so that they are made anew, and the manifest with them.
func (p *place) changed() (bool, error) {
	if len(p.taken) == 0 {
		return false, nil
	}
	sums, err := evidence.Sums(p.part)
	if err != nil {
		return false, err
	}
	found := false
	for name, sum := range p.taken {
		if got, there := sums[name]; there && got != sum {
			found = true
			err = errors.Join(err, p.drop(name))
		}
	}
	if found {
		err = errors.Join(err, ignoreAbsent(os.Remove(p.at(evidence.ManifestName))))
	}
	return found, err
}

// drop removes a gathered file; with a drawing, the thumbnail that says that all is there.
func (p *place) drop(name string) error {
	delete(p.taken, name)
	err := ignoreAbsent(os.Remove(p.at(name)))
	if drawing, is := strings.CutPrefix(name, "overlays/"); is {
		thumb := "thumbs/" + strings.TrimSuffix(drawing, filepath.Ext(drawing)) + ".jpg"
		delete(p.taken, thumb)
		err = errors.Join(err, ignoreAbsent(os.Remove(p.at(thumb))))
	}
	return err
}

// sweep drops drawings that an interrupted call left and that are not whole, as after the power failed. Originals are held
// against the history: see toDo.
func (p *place) sweep() error {
	var all error
	for dir, format := range map[string]struct{ first, last string }{
		"overlays": {"\x89PNG\r\n\x1a\n", "IEND\xaeB`\x82"}, "thumbs": {"\xff\xd8", "\xff\xd9"},
	} {
		files, err := os.ReadDir(filepath.Join(p.part, dir))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return p.unwritable(err)
		}
		for _, f := range files {
			if name := dir + "/" + f.Name(); !beginsAndEnds(p.at(name), format.first, format.last) {
				all = errors.Join(all, p.drop(name))
			}
		}
	}
	return all
}

// beginsAndEnds tells whether a file can be read and has these first and last bytes.
func beginsAndEnds(path, first, last string) bool {
	file, err := os.Open(path)
	if err != nil {
		return false
	}
	defer func() { _ = file.Close() }()
	info, err := file.Stat()
	if err != nil || !info.Mode().IsRegular() {
		return false
	}
	start, end := make([]byte, len(first)), make([]byte, len(last))
	if _, err := file.ReadAt(start, 0); err != nil {
		return false
	}
	if _, err := file.ReadAt(end, max(0, info.Size()-int64(len(end)))); err != nil {
		return false
	}
	return string(start) == first && string(end) == last
}
