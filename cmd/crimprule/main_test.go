package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"rsc.io/qr"
)

// The scripts call the true program: the test binary plays it.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"crimprule": main})
}

// TestScripts runs one script a command, wrong calls included. Each finds these files in its folder: grey.jpg (a plain
// grey picture without a chessboard), cut.jpg (the first half of its bytes), sample.jpg (a demo picture), bad.jpg (one of
// a crimp whose wings are unequal), and tagged.jpg
// and evil.jpg, which are the same with a tag beside the part, of which the second would do harm to a terminal.
func TestScripts(t *testing.T) {
	sample, err := os.ReadFile("../../samples/canopy-north-string-03-crimp-01.jpg")
	require.NoError(t, err)
	bad, err := os.ReadFile("../../samples/workshop-trainee-3-crimp-02.jpg")
	require.NoError(t, err)
	grey, other := greyJPEG(t), withSpots(t, sample)
	tagged, evil := withTag(t, sample, "canopy-north string-03 crimp-01"), withTag(t, sample, "crimp\x1b[2J-01")
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		Setup: func(env *testscript.Env) error {
			// HOME and the like stay unset; only what the program may depend on is there.
			env.Setenv("NO_COLOR", "")
			return errors.Join(
				os.WriteFile(env.Cd+"/grey.jpg", grey, 0o644),
				os.WriteFile(env.Cd+"/cut.jpg", grey[:len(grey)/2], 0o644),
				os.WriteFile(env.Cd+"/sample.jpg", sample, 0o644),
				os.WriteFile(env.Cd+"/bad.jpg", bad, 0o644),
				os.WriteFile(env.Cd+"/other.jpg", other, 0o644),
				os.WriteFile(env.Cd+"/tagged.jpg", tagged, 0o644),
				os.WriteFile(env.Cd+"/evil.jpg", evil, 0o644))
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"status": status, "empty": empty, "sitehistory": siteHistory},
	})
}

// status N WORD...: runs a command and demands exit status N, which testscript's own exec cannot tell apart.
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N COMMAND [ARG...]")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := 0
	var exit interface{ ExitCode() int }
	if errors.As(err, &exit) {
		got = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if fmt.Sprint(got) != args[0] {
		ts.Fatalf("exit status %d, want %s", got, args[0])
	}
}

// empty DIR...: demands that the folders hold nothing.
func empty(ts *testscript.TestScript, neg bool, args []string) {
	for _, dir := range args {
		entries, err := os.ReadDir(ts.MkAbs(dir))
		ts.Check(err)
		if neg == (len(entries) == 0) {
			ts.Fatalf("%s holds %v", dir, entries)
		}
	}
}

func greyJPEG(t *testing.T) []byte { return plainJPEG(t, 640, 480) }

// smallJPEG is a picture that costs little to be refused.
func smallJPEG(t *testing.T) []byte { return plainJPEG(t, 96, 72) }

func plainJPEG(t *testing.T, width, height int) []byte {
	img := image.NewGray(image.Rect(0, 0, width, height))
	for i := range img.Pix {
		img.Pix[i] = uint8(120 + (i*7919)%17)
	}
	img.SetGray(3, 3, color.Gray{Y: 250})
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, nil))
	return b.Bytes()
}

// withTag prints a QR code on a picture's upper right corner, where the demo pictures show the ground.
func withTag(t *testing.T, data []byte, text string) []byte {
	decoded, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	code, err := qr.Encode(text, qr.M)
	require.NoError(t, err)
	const module = 9
	side := (code.Size + 8) * module
	img := image.NewRGBA(decoded.Bounds())
	draw.Draw(img, img.Rect, decoded, img.Rect.Min, draw.Src)
	corner := image.Pt(img.Rect.Max.X-side-20, 20)
	draw.Draw(img, image.Rectangle{Min: corner, Max: corner.Add(image.Pt(side, side))}, image.NewUniform(color.Gray{Y: 225}), image.Point{}, draw.Src)
	for y := range code.Size {
		for x := range code.Size {
			if code.Black(x, y) {
				at := corner.Add(image.Pt((x+4)*module, (y+4)*module))
				draw.Draw(img, image.Rectangle{Min: at, Max: at.Add(image.Pt(module, module))}, image.NewUniform(color.Gray{Y: 40}), image.Point{}, draw.Src)
			}
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 92}))
	return b.Bytes()
}

// withSpots darkens small places near the corners of a picture.
func withSpots(t *testing.T, data []byte) []byte {
	decoded, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	img := image.NewRGBA(decoded.Bounds())
	draw.Draw(img, img.Rect, decoded, img.Rect.Min, draw.Src)
	for i := range 6 {
		at := image.Pt(30+(i%3)*60, 40+(i/3)*1350)
		draw.Draw(img, image.Rectangle{Min: at, Max: at.Add(image.Pt(30, 30))}, image.NewUniform(color.Gray{Y: 120}), image.Point{}, draw.Src)
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 92}))
	return b.Bytes()
}

// A call that is stopped says so and has a status of its own, however far it came.
func TestInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var out, complaints bytes.Buffer
	got := run(ctx, []string{"measure", "--json", "any.jpg"}, &out, &complaints)
	assert.Equal(t, exitInterrupted, got)
	assert.Empty(t, out.String())
	assert.Contains(t, complaints.String(), "interrupted")
}

func TestExitStatus(t *testing.T) {
	for want, err := range map[int]error{
		exitDone:          nil,
		exitFailed:        errUnreadable,
		exitWrongCall:     fmt.Errorf("wrapped: %w", wrongCall{"crimprule", errors.New("x")}),
		exitNotConforming: errNotConforming,
		exitInterrupted:   fmt.Errorf("wrapped: %w", context.Canceled),
	} {
		assert.Equal(t, want, exitStatus(err))
	}
	assert.Equal(t, exitFailed, exitStatus(io.ErrShortWrite), "whatever else goes wrong")
}

func TestStemsNeverCollideNorOverwritePictures(t *testing.T) {
	dir := t.TempDir()
	picture := filepath.Join(dir, "a.overlay.png")
	require.NoError(t, os.WriteFile(picture, []byte("x"), 0o644))
	pictures := []string{"north/a.jpg", "south/a.jpg", "a-2.png", picture}
	d, err := openOutputDir("--overlay", dir, pictures)
	require.NoError(t, err)
	seen := map[string]bool{}
	for _, p := range pictures {
		file := d.file(p, "overlay.png")
		assert.False(t, seen[file], file)
		assert.NotEqual(t, picture, file, "a given picture is never overwritten")
		seen[file] = true
	}
}

func TestWriteAtomicallyLeavesNothingBehindAFailure(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out.png")
	err := writeAtomically(path, func(w io.Writer) error {
		_, _ = w.Write([]byte("half"))
		return errors.New("no space left")
	})
	require.ErrorContains(t, err, "no space left")
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, entries)

	require.NoError(t, writeAtomically(path, func(w io.Writer) error { _, err := w.Write([]byte("whole")); return err }))
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "whole", string(got))
}

// BenchmarkStart is the time from call to end of `crimprule version`, for which the aim is at most 0.25 s. It needs the
// program as `make build` leaves it.
func BenchmarkStart(b *testing.B) {
	program, err := filepath.Abs("../../crimprule")
	if err == nil {
		_, err = os.Stat(program)
	}
	if err != nil {
		b.Skip("call make build first")
	}
	for b.Loop() {
		p, err := os.StartProcess(program, []string{program, "version"}, &os.ProcAttr{})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := p.Wait(); err != nil {
			b.Fatal(err)
		}
	}
}

func TestTheClockIsSetStrictly(t *testing.T) {
	for _, text := range []string{"12x", "-1", "+1", "1e9", " 1", "253402300800", "99999999999999", "9999999999999999999999"} {
		t.Setenv("SOURCE_DATE_EPOCH", text)
		_, err := clock()
		require.ErrorContains(t, err, fmt.Sprintf("SOURCE_DATE_EPOCH=%q", text))
	}
	for text, year := range map[string]int{"0": 1970, "1764000000": 2025, "253402300799": 9999} {
		t.Setenv("SOURCE_DATE_EPOCH", text)
		now, err := clock()
		require.NoError(t, err)
		assert.Equal(t, year, now().Year())
	}
}
