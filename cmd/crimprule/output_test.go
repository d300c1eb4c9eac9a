package main

import (
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

func TestStagesAreNumberedAndShowEveryKindOfMat(t *testing.T) {
	dir := t.TempDir()
	d, err := openOutputDir("--debug-dir", dir, nil)
	require.NoError(t, err)
	s := d.stages("photos/crew-a-017.jpg")
	for _, stage := range []struct {
		name string
		kind gocv.MatType
	}{
		{"corners", gocv.MatTypeCV8UC3}, {"Level picture", gocv.MatTypeCV8UC1},
		{"gradient/x", gocv.MatTypeCV32FC1}, {"deep", gocv.MatTypeCV16UC1}, {"labels", gocv.MatTypeCV32SC1},
	} {
		mat := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(7, 8, 9, 0), 4, 6, stage.kind)
		s.debug()(stage.name, mat)
		require.NoError(t, mat.Close())
		require.NoError(t, s.err, stage.name)
	}
	for _, name := range []string{"01-corners", "02-level-picture", "03-gradient-x", "04-deep", "05-labels"} {
		file, err := os.Open(filepath.Join(dir, "crew-a-017-"+name+".png"))
		require.NoError(t, err)
		img, err := png.Decode(file)
		require.NoError(t, err)
		require.NoError(t, file.Close())
		assert.Equal(t, 6, img.Bounds().Dx())
		assert.Equal(t, 4, img.Bounds().Dy())
	}

	// A stage that cannot be shown is told of once; measuring goes on, nothing more is written.
	nothing := gocv.NewMat()
	s.write("nothing", nothing)
	require.NoError(t, nothing.Close())
	assert.ErrorContains(t, s.err, `stage "nothing"`)
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 5)
}

func TestStagesNeverOverwriteAPicture(t *testing.T) {
	dir := t.TempDir()
	picture := filepath.Join(dir, "a-01-corners.png")
	require.NoError(t, os.WriteFile(picture, []byte("a photo"), 0o644))
	d, err := openOutputDir("--debug-dir", dir, []string{"a.jpg", picture})
	require.NoError(t, err)
	s := d.stages("a.jpg")
	mat := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(7, 8, 9, 0), 4, 6, gocv.MatTypeCV8UC3)
	defer func() { _ = mat.Close() }()
	s.write("corners", mat)
	require.ErrorContains(t, s.err, "would overwrite")
	got, err := os.ReadFile(picture)
	require.NoError(t, err)
	assert.Equal(t, "a photo", string(got))
}
