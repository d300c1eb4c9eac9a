package evidence

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// ManifestName is the file in which the SHA-256 of every other file stands, in the format of sha256sum, so that
// `sha256sum -c` checks it as well.
const ManifestName = "manifest.sha256"

// manifest writes the manifest and returns its own SHA-256.
func (f folder) manifest(ctx context.Context) (string, error) {
	root, err := os.OpenRoot(string(f))
	if err != nil {
		return "", unreadable(string(f), err)
	}
	defer func() { _ = root.Close() }()
	names, empty, odd, err := list(root)
	if err != nil {
		return "", unreadable(string(f), err)
	}
	for _, name := range slices.Backward(empty) { // a manifest cannot name them
		if err := root.Remove(name); err != nil {
			return "", unwritable(filepath.Join(string(f), name), err)
		}
	}
	if len(odd) > 0 {
		return "", fmt.Errorf("%q is %s: evidence holds plain files only; take it away and call again", filepath.Join(string(f), odd[0].Name), odd[0].Reason)
	}
	own, buffer := sha256.New(), make([]byte, sumBuffer)
	err = f.file(ManifestName, func(w *output) error {
		for _, name := range names {
			if err := ctx.Err(); err != nil {
				return err
			}
			sum, err := sumOf(root, name, buffer)
			if err != nil {
				return unreadable(filepath.Join(string(f), name), err)
			}
			line := manifestLine(sum, name)
			_, _ = io.WriteString(own, line) // a hash never fails
			if _, err := w.WriteString(line); err != nil {
				return err
			}
		}
		return nil
	})
	return hex.EncodeToString(own.Sum(nil)), err
}

// list gives the plain files below root with slashes between folders, sorted, without the manifest; the folders that hold
// no file, not even in folders of theirs; and what is neither a plain file nor a folder. Links are never followed. Package
// io/fs would do but for names that are no UTF-8.
func list(root *os.Root) (files, empty []string, odd []Problem, err error) {
	var w walk
	_, err = w.folder(root, ".")
	slices.Sort(w.files)
	slices.Sort(w.empty)
	slices.SortFunc(w.odd, func(a, b Problem) int { return strings.Compare(a.Name, b.Name) })
	return w.files, w.empty, w.odd, err
}

// walk gathers what lies in a folder.
type walk struct {
	files, empty []string
	odd          []Problem
}

// folder takes all that lies below dir and tells whether that is anything but folders.
func (w *walk) folder(root *os.Root, dir string) (holds bool, err error) {
	f, err := root.Open(dir)
	if err != nil {
		return false, err
	}
	entries, err := f.ReadDir(-1)
	_ = f.Close()
	if err != nil {
		return false, err
	}
	for _, entry := range entries {
		name := path.Join(dir, entry.Name())
		if entry.IsDir() {
			inside, err := w.folder(root, name)
			if err != nil {
				return false, err
			}
			if !inside {
				w.empty = append(w.empty, name)
			}
			holds = holds || inside
			continue
		}
		holds = true
		switch {
		case name == ManifestName && entry.Type().IsRegular():
		case entry.Type().IsRegular():
			w.files = append(w.files, name)
		case entry.Type()&os.ModeSymlink != 0:
			w.odd = append(w.odd, Problem{name, "a symbolic link"})
		default:
			w.odd = append(w.odd, Problem{name, "no plain file"})
		}
	}
	return holds, nil
}

// below tells whether a name, with slashes between folders, is that of something below the folder, written in the one
// usual way.
func below(name string) bool {
	return name != "." && name != ".." && !strings.HasPrefix(name, "/") && !strings.HasPrefix(name, "../") && path.Clean(name) == name
}

// sumBuffer is what files are read through to be summed: one for all, since tens of thousands are.
const sumBuffer = 1 << 17

// sumOf is the SHA-256 of a file in hex, read through buffer.
func sumOf(root *os.Root, name string, buffer []byte) (string, error) {
	file, err := root.Open(name)
	if err != nil {
		return "", err
	}
	defer func() { _ = file.Close() }()
	sum := sha256.New()
	if _, err := io.CopyBuffer(sum, struct{ io.Reader }{file}, buffer); err != nil { // a bare file would bring a buffer of its own
		return "", err
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

var escape = strings.NewReplacer(`\`, `\\`, "\n", `\n`, "\r", `\r`)

// manifestLine is a line as sha256sum writes it: the sum, two spaces and the name; where the name holds a backslash or
// the end of a line, these are escaped and the line begins with a backslash (GNU coreutils manual, "md5sum invocation").
func manifestLine(sum, name string) string {
	if escaped := escape.Replace(name); escaped != name {
		return `\` + sum + "  " + escaped + "\n"
	}
	return sum + "  " + name + "\n"
}

// parseLine reads such a line, without its end.
func parseLine(line string) (sum, name string, err error) {
	text, escaped := strings.CutPrefix(line, `\`)
	if len(text) < 2*sha256.Size+3 || text[2*sha256.Size] != ' ' || text[2*sha256.Size+1] != ' ' && text[2*sha256.Size+1] != '*' {
		return "", "", errors.New("it is no line of the form \"SUM  NAME\"")
	}
	sum, name = text[:2*sha256.Size], text[2*sha256.Size+2:]
	if _, err := hex.DecodeString(sum); err != nil {
		return "", "", errors.New("its sum is no SHA-256 in hex")
	}
	if escaped {
		if name, err = unescape(name); err != nil {
			return "", "", err
		}
	}
	return strings.ToLower(sum), name, nil
}

func unescape(text string) (string, error) {
	var b strings.Builder
	for i := 0; i < len(text); i++ {
		if text[i] != '\\' {
			b.WriteByte(text[i])
			continue
		}
		i++
		at := -1
		if i < len(text) {
			at = strings.IndexByte(`\nr`, text[i])
		}
		if at < 0 {
			return "", errors.New("its name has a backslash that escapes nothing")
		}
		b.WriteByte("\\\n\r"[at])
	}
	return b.String(), nil
}

// unreadable says what could not be read, why, and what to do.
func unreadable(path string, err error) error {
	var inner *os.PathError
	if errors.As(err, &inner) {
		err = inner.Err
	}
	return fmt.Errorf("%q cannot be read: %w; see that it is there and may be read, and call again", path, err)
}
