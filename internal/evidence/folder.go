package evidence

import (
	"bufio"
	"embed"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"strings"
	"syscall"
)

//go:embed templates
var templates embed.FS

// folder is where the evidence goes.
type folder string

// output is one of its files while it is written.
type output = bufio.Writer

// file writes one file of the folder; name has slashes. What could not be written whole is taken away again.
func (f folder) file(name string, write func(*output) error) (err error) {
	target := filepath.Join(string(f), filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(target), 0o755); err != nil {
		return unwritable(target, err)
	}
	file, err := os.OpenFile(target, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o644)
	if err != nil {
		return unwritable(target, err)
	}
	w := bufio.NewWriterSize(failing{file, target}, 16<<10)
	if err = write(w); err == nil {
		err = w.Flush()
	}
	if closing := file.Close(); err == nil && closing != nil {
		err = unwritable(target, closing)
	}
	if err != nil {
		_ = os.Remove(target)
	}
	return err
}

// failing names the file in the error of a write that fails, however deep below a template or an encoder it happens.
type failing struct {
	w    io.Writer
	path string
}

func (f failing) Write(p []byte) (int, error) {
	n, err := f.w.Write(p)
	if err != nil {
		err = unwritable(f.path, err)
	}
	return n, err
}

// unwritable says what could not be written, why, and what to do.
func unwritable(path string, err error) error {
	do := "see that the folder can be written to, or name another one, and call again"
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		do = "free some space, or name a folder on another disk, and call again"
	case errors.Is(err, syscall.EROFS), errors.Is(err, os.ErrPermission):
		do = "name a folder that can be written to, and call again"
	}
	var inner *os.PathError
	if errors.As(err, &inner) {
		err = inner.Err
	}
	return fmt.Errorf("%q cannot be written: %w; %s", path, err, do)
}

// assets writes the style sheet and the scripts, which all pages share.
func (f folder) assets() error {
	for _, name := range []string{"style.css", "list.js", "crimp.js"} {
		text, err := templates.ReadFile("templates/" + name)
		if err != nil {
			return err
		}
		if err := f.file("assets/"+name, func(w *output) error { _, err := w.Write(text); return err }); err != nil {
			return err
		}
	}
	return nil
}

// tolerances writes the tolerances files as they were.
func (f folder) tolerances(all []Tolerances) error {
	for _, t := range all {
		if err := f.file(t.Path(), func(w *output) error { _, err := w.WriteString(t.Text); return err }); err != nil {
			return err
		}
	}
	return nil
}

// Path is where the evidence keeps the file, slashes between folders. The hash's beginning keeps files of one name apart; the name is cut down
// to letters that no system and no page stumbles over.
func (t Tolerances) Path() string {
	name := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_', r == '.':
			return r
		}
		return '-'
	}, path.Base(filepath.ToSlash(t.File)))
	return "tolerances/" + t.short() + "-" + strings.TrimLeft(name, ".-")
}

// short is the beginning of the hash, enough to tell files apart.
func (t Tolerances) short() string { return t.Hash[:min(12, len(t.Hash))] }
