package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"gocv.io/x/gocv"
)

// outputDir is a folder that files about pictures are written to. Each picture has a stem of its own there, so that
// pictures of equal name from different folders never overwrite each other, and no picture is ever overwritten.
type outputDir struct {
	path     string
	pictures []os.FileInfo // what must not be overwritten
	used     map[string]bool
}

// openOutputDir makes the folder that option names, if need be, and tries whether it can be written to, so that a call
// fails before it measures and not after. It gives nil for no folder.
func openOutputDir(option, path string, pictures []string) (*outputDir, error) {
	if path == "" {
		return nil, nil
	}
	err := os.MkdirAll(path, 0o755)
	if err == nil {
		var probe *os.File
		if probe, err = os.CreateTemp(path, ".crimprule-*"); err == nil {
			err = errors.Join(probe.Close(), os.Remove(probe.Name()))
		}
	}
	if err != nil {
		return nil, fmt.Errorf("%s %q cannot be written to: %w; name a folder that can", option, path, err)
	}
	d := &outputDir{path: path, used: map[string]bool{}}
	for _, p := range pictures {
		if info, err := os.Stat(p); err == nil {
			d.pictures = append(d.pictures, info)
		}
	}
	return d, nil
}

// stem is the picture's name without folder and extension, with a number where another picture has it already.
func (d *outputDir) stem(picture, suffix string) string {
	base := filepath.Base(picture)
	plain := strings.TrimSuffix(base, filepath.Ext(base))
	stem := plain
	for n := 2; d.used[stem] || d.isPicture(stem+suffix); n++ {
		stem = fmt.Sprintf("%s-%d", plain, n)
	}
	d.used[stem] = true
	return stem
}

func (d *outputDir) isPicture(name string) bool {
	info, err := os.Stat(filepath.Join(d.path, name))
	if err != nil {
		return false
	}
	for _, p := range d.pictures {
		if os.SameFile(info, p) {
			return true
		}
	}
	return false
}

// file is where the picture's one file goes: STEM.SUFFIX.
func (d *outputDir) file(picture, suffix string) string {
	return filepath.Join(d.path, d.stem(picture, "."+suffix)+"."+suffix)
}

// writeAtomically writes a file as a whole or not at all: into a temporary file beside it, which then takes its place.
func writeAtomically(path string, write func(io.Writer) error) (err error) {
	temp, err := os.CreateTemp(filepath.Dir(path), ".crimprule-*")
	if err != nil {
		return fmt.Errorf("%q cannot be written: %w", path, err)
	}
	defer func() {
		if err != nil {
			err = fmt.Errorf("%q cannot be written: %w", path, err)
			_ = os.Remove(temp.Name())
		}
	}()
	err = errors.Join(write(temp), temp.Chmod(0o644), temp.Close())
	if err != nil {
		return err
	}
	return os.Rename(temp.Name(), path)
}

// stages writes the pictures after each stage of one picture: STEM-01-NAME.png and so on. The first failure is kept
// and ends the writing; measuring goes on.
type stages struct {
	dir  *outputDir
	stem string
	n    int
	err  error
}

func (d *outputDir) stages(picture string) *stages {
	s := &stages{dir: d}
	if d != nil {
		s.stem = d.stem(picture, "-01")
	}
	return s
}

// debug is what the library calls after each stage; nil where no one wants to see it.
func (s *stages) debug() func(string, gocv.Mat) {
	if s.dir == nil {
		return nil
	}
	return s.write
}

func (s *stages) write(stage string, mat gocv.Mat) {
	s.n++
	if s.err != nil {
		return
	}
	data, err := pngOf(mat)
	if err != nil {
		s.err = fmt.Errorf("stage %q cannot be written: %w", stage, err)
		return
	}
	name := fmt.Sprintf("%s-%02d-%s.png", s.stem, s.n, fileWord(stage))
	if s.dir.isPicture(name) {
		s.err = fmt.Errorf("stage %q would overwrite the picture %q: give --debug-dir a folder without pictures", stage, name)
		return
	}
	s.err = writeAtomically(filepath.Join(s.dir.path, name), func(w io.Writer) error {
		_, err := io.Copy(w, bytes.NewReader(data))
		return err
	})
}

// fileWord makes a stage's name fit for a file's name.
func fileWord(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r - 'A' + 'a'
		}
		return '-'
	}, text)
}

// pngOf encodes any Mat of one, three or four channels that can be shown. Depths other than 8 and 16 bits are
// stretched from their smallest to their largest value.
func pngOf(mat gocv.Mat) ([]byte, error) {
	if mat.Empty() {
		return nil, errors.New("the picture is empty")
	}
	if c := mat.Channels(); c != 1 && c != 3 && c != 4 {
		return nil, fmt.Errorf("a picture of %d channels cannot be shown", c)
	}
	shown := mat
	if depth := mat.Type() & 7; depth != gocv.MatTypeCV8U && depth != gocv.MatTypeCV16U {
		shown = gocv.NewMat()
		defer func() { _ = shown.Close() }()
		gocv.Normalize(mat, &shown, 0, 255, gocv.NormMinMax)
		shown.ConvertTo(&shown, gocv.MatTypeCV8U)
	}
	buffer, err := gocv.IMEncodeWithParams(gocv.PNGFileExt, shown, []int{gocv.IMWritePngCompression, 1})
	if err != nil {
		return nil, err
	}
	defer buffer.Close()
	return bytes.Clone(buffer.GetBytes()), nil
}
