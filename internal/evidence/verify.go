package evidence

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// Problem names a file of the evidence and what is wrong with it.
type Problem struct {
	Name   string `json:"name"`
	Reason string `json:"reason"`
}

// Report is what checking a folder against its manifest found. Names have slashes between folders and are sorted.
type Report struct {
	Files      int       `json:"files"`      // files in the manifest
	Manifest   string    `json:"manifest"`   // SHA-256 of the manifest itself
	Changed    []string  `json:"changed"`    // another content than when the evidence was written
	Missing    []string  `json:"missing"`    // in the manifest, not in the folder
	Additional []string  `json:"additional"` // in the folder, not in the manifest; an empty folder ends with a slash
	Refused    []Problem `json:"refused"`    // links, files that cannot be read, lines and names that no evidence has
}

// Whole tells whether the folder is just what the manifest says.
func (r Report) Whole() bool {
	return len(r.Changed)+len(r.Missing)+len(r.Additional)+len(r.Refused) == 0
}

// manifestLimit keeps a wrong file from filling the memory: ten thousand crimps need a few megabytes.
const manifestLimit = 256 << 20

// Verify checks a folder of evidence against its manifest. It reads plain files below dir only: links are refused, and so
// are names in the manifest that lead out of the folder. An error means that nothing could be checked. Whoever can
// change the evidence can write a new manifest too: only one who kept the manifest's own SHA-256 elsewhere can tell.
func Verify(dir string) (Report, error) {
	r := Report{Changed: []string{}, Missing: []string{}, Additional: []string{}, Refused: []Problem{}}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return r, cannotVerify(dir, err)
	}
	defer func() { _ = root.Close() }()
	sums, err := r.read(root, dir)
	if err != nil {
		return r, err
	}
	present, empty, odd, err := list(root)
	if err != nil {
		return r, unreadable(dir, err)
	}
	r.Refused = append(r.Refused, odd...)
	r.compare(root, sums, present)
	for _, name := range empty {
		if !holds(sums, name) {
			r.Additional = append(r.Additional, name+"/")
		}
	}
	slices.Sort(r.Additional)
	slices.SortStableFunc(r.Refused, func(a, b Problem) int { return strings.Compare(a.Name, b.Name) })
	return r, nil
}

// Sums gives the SHA-256 of each file that the manifest of a folder of evidence names, in hex. No file but the manifest is
// read.
func Sums(dir string) (map[string]string, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, cannotVerify(dir, err)
	}
	defer func() { _ = root.Close() }()
	return new(Report).read(root, dir)
}

// Added names the first file or folder in a folder of evidence that its manifest does not know; empty where there is none.
// No file but the manifest is read. An error means that the folder or its manifest could not be.
func Added(dir string) (string, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return "", cannotVerify(dir, err)
	}
	defer func() { _ = root.Close() }()
	sums, err := new(Report).read(root, dir)
	if err != nil {
		return "", err
	}
	present, empty, odd, err := list(root)
	if err != nil {
		return "", unreadable(dir, err)
	}
	for _, p := range odd {
		present = append(present, p.Name)
	}
	for _, name := range append(present, empty...) {
		if sums[name] != "" || holds(sums, name) {
			continue
		}
		for folder := path.Dir(name); folder != "." && !holds(sums, folder); folder = path.Dir(folder) {
			name = folder
		}
		return name, nil
	}
	return "", nil
}

// holds tells whether the manifest has a file below the folder: that the file is missing is told, the folder is not new.
func holds(sums map[string]string, folder string) bool {
	for name := range sums {
		if strings.HasPrefix(name, folder+"/") {
			return true
		}
	}
	return false
}

func cannotVerify(dir string, err error) error {
	if info, statErr := os.Stat(dir); statErr == nil && !info.IsDir() {
		return fmt.Errorf("%q is no folder: name the folder of the evidence, in which %s lies", dir, ManifestName)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%q does not exist: name the folder of the evidence", dir)
	}
	return unreadable(dir, err)
}

// read gives the sums of the manifest by name. What does not belong in one is refused.
func (r *Report) read(root *os.Root, dir string) (map[string]string, error) {
	info, err := root.Lstat(ManifestName)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%q holds no %s: name the folder that the evidence was written to; one whose writing was cut short has none", dir, ManifestName)
	case err != nil:
		return nil, unreadable(filepath.Join(dir, ManifestName), err)
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%q is no plain file: it is not the manifest that was written with the evidence; ask for the folder anew",
			filepath.Join(dir, ManifestName))
	case info.Size() > manifestLimit:
		return nil, fmt.Errorf("%q has %d bytes, more than any manifest: ask for the folder anew", filepath.Join(dir, ManifestName), info.Size())
	}
	file, err := root.Open(ManifestName)
	if err != nil {
		return nil, unreadable(filepath.Join(dir, ManifestName), err)
	}
	defer func() { _ = file.Close() }()

	own := sha256.New()
	sums := map[string]string{}
	lines := bufio.NewScanner(io.TeeReader(file, own))
	lines.Buffer(nil, 1<<20)
	lines.Split(splitLines)
	for n := 1; lines.Scan(); n++ {
		where := fmt.Sprintf("%s, line %d", ManifestName, n)
		sum, name, err := parseLine(lines.Text())
		switch {
		case err != nil:
			r.Refused = append(r.Refused, Problem{where, err.Error()})
		case !below(name) || name == ManifestName:
			r.Refused = append(r.Refused, Problem{where, fmt.Sprintf("the name %q is none of a file below the folder", name)})
		case sums[name] != "":
			r.Refused = append(r.Refused, Problem{where, fmt.Sprintf("the name %q stands there twice", name)})
		default:
			sums[name] = sum
		}
	}
	if err := lines.Err(); err != nil {
		return nil, unreadable(filepath.Join(dir, ManifestName), err)
	}
	r.Files, r.Manifest = len(sums), hex.EncodeToString(own.Sum(nil))
	return sums, nil
}

// splitLines parts at line feeds only: a carriage return may be part of a name.
func splitLines(data []byte, atEOF bool) (advance int, token []byte, err error) {
	for i, c := range data {
		if c == '\n' {
			return i + 1, data[:i], nil
		}
	}
	if atEOF && len(data) > 0 {
		return len(data), data, nil
	}
	return 0, nil, nil
}

// compare holds the files that are there against the sums.
func (r *Report) compare(root *os.Root, sums map[string]string, present []string) {
	odd := map[string]bool{}
	for _, p := range r.Refused {
		odd[p.Name] = true
	}
	seen := map[string]bool{}
	buffer := make([]byte, sumBuffer)
	for _, name := range present {
		seen[name] = true
		want, known := sums[name]
		if !known {
			r.Additional = append(r.Additional, name)
			continue
		}
		switch got, err := sumOf(root, name, buffer); {
		case err != nil:
			r.Refused = append(r.Refused, Problem{name, "it cannot be read: " + err.Error()})
		case got != want:
			r.Changed = append(r.Changed, name)
		}
	}
	for name := range sums {
		if !seen[name] && !odd[name] {
			r.Missing = append(r.Missing, name)
		}
	}
	slices.Sort(r.Missing)
}
