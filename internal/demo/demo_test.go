package demo

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/scan"
	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/samples"
	"crimprule/vision/record"
)

// limitsOf reads the tolerances file of a line.
func limitsOf(t *testing.T, l line) tolerance.File {
	name := filepath.Base(l.tolerances)
	if l.view == "section" {
		name = "sections/" + name
	}
	text, err := samples.Tolerances.ReadFile(name)
	require.NoError(t, err)
	file, err := tolerance.Parse(name, text)
	require.NoError(t, err)
	require.Equal(t, record.View(l.view), file.View)
	return file
}

// outside names the measurands whose true values, as drawn, lie outside of the limits.
func outside(t *testing.T, p picture) (keys []record.Key) {
	truth := p.scene.Truth().Values
	for _, limit := range limitsOf(t, p.line).Limits {
		v, there := truth[limit.Key]
		if there && (limit.Min != nil && v < *limit.Min || limit.Max != nil && v > *limit.Max) {
			keys = append(keys, limit.Key)
		}
	}
	return keys
}

// The faults that README.txt tells of are in the scenes, and no others.
func TestScenesAreWhatTheReadmeSays(t *testing.T) {
	const gap, off = record.InsulationGapMax, record.Symmetry
	want := map[string][]record.Key{
		"north-03/crimp-3-seam.jpg": {gap}, "north-04/crimp-1-seam.jpg": {record.StrayCount},
		"south-07/crimp-5-seam.jpg": {off}, "south-07/crimp-6-seam.jpg": {off}, "south-07/crimp-7-seam.jpg": {off}, "south-07/crimp-8-seam.jpg": {off},
		"south-07/crimp-9-seam.jpg": {off},
		"trainee-2/crimp-1.jpg":     {gap}, "trainee-2/crimp-2.jpg": {gap}, "trainee-2/crimp-3.jpg": {gap},
		"trainee-3/crimp-1.jpg": {record.SeamOpeningMax, record.CompletenessRight, record.MissingDepthMax},
		"trainee-3/crimp-2.jpg": {off}, "trainee-3/crimp-3.jpg": {record.StrayCount}, "trainee-3/crimp-5.jpg": {gap},
		"trainee-4/crimp-2.jpg": {record.BrushMean}, "trainee-4/crimp-4.jpg": {record.Bend},
	}
	wear := 1.0
	for _, f := range wholeSite(usualWidth) {
		for _, p := range f.pictures {
			if p.scene == nil {
				continue
			}
			bad := outside(t, p)
			assert.Equal(t, want[p.file], bad, p.file)
			switch {
			case p.line.trainee == "trainee 3":
				assert.Equal(t, "good", p.line.own, p.file)
			case p.file == "trainee-2/crimp-3.jpg", p.file == "trainee-4/crimp-3.jpg":
				assert.NotEqual(t, len(bad) == 0, p.line.own == "good", p.file)
			case p.line.own != "":
				assert.Equal(t, len(bad) == 0, p.line.own == "good", p.file)
			}
			if p.line.tool == "T2" {
				now := p.scene.Truth().Values[record.Symmetry]
				assert.Less(t, now, wear, "the die wears")
				wear = now
			}
		}
	}
}

// Every picture is in its folder's manifest and the manifest says what scan needs.
func TestManifestsFitTheSite(t *testing.T) {
	dir := t.TempDir()
	all := wholeSite(usualWidth)
	require.NoError(t, writeTexts(dir, all))
	for _, f := range all {
		for _, p := range f.pictures {
			require.NoError(t, os.WriteFile(filepath.Join(dir, f.name, p.file), []byte("a picture"), 0o644))
		}
		l, err := scan.Find([]string{filepath.Join(dir, f.name)}, scan.FindOptions{})
		require.NoError(t, err)
		assert.Len(t, l.Files, len(f.pictures))
		assert.Empty(t, l.LeftAlone)
		for _, found := range l.Files {
			assert.Empty(t, found.Problem)
			assert.Equal(t, site.FromManifest, found.Origin)
			assert.NotEmpty(t, found.Label.Crimp)
			assert.NotEmpty(t, found.Label.Tool)
			assert.NotEmpty(t, found.View)
			assert.Len(t, found.Scales, 1)
			limits, err := scan.LoadLimits(found.Tolerances)
			require.NoError(t, err)
			assert.NotNil(t, limits.For(found.View))
		}
	}
	text, err := os.ReadFile(filepath.Join(dir, "README.txt"))
	require.NoError(t, err)
	for _, f := range all {
		for _, p := range f.pictures {
			assert.Contains(t, string(text), "\n  "+filepath.Dir(p.file)+"/ ", "the readme says what lies there")
		}
	}
}

func TestPicturesAreTheSameEachTime(t *testing.T) {
	pictures := append(canopy(200).pictures[:1], canopy(200).pictures[16:]...) // a photo, both sections, the file that was cut short
	write := func() (data [][]byte) {
		dir, calls := t.TempDir(), 0
		all := make([]picture, len(pictures))
		for i, p := range pictures {
			p.file = fmt.Sprint(i, ".jpg")
			all[i] = p
		}
		require.NoError(t, drawAll(context.Background(), dir, []folder{{pictures: all}}, func(int, int) { calls++ }))
		for _, p := range all {
			file, err := os.ReadFile(filepath.Join(dir, p.file))
			require.NoError(t, err)
			data = append(data, file)
		}
		assert.Equal(t, len(all)+1, calls)
		return data
	}
	assert.Equal(t, write(), write())
}

func TestWriteRefusesFoldersThatAreNotEmpty(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "mine.txt")
	require.NoError(t, os.WriteFile(file, []byte("x"), 0o644))
	var wrong FolderError
	err := Write(context.Background(), dir, Options{})
	assert.ErrorAs(t, err, &wrong)
	assert.ErrorContains(t, err, "is not empty: name a new folder, so that nothing of yours is mixed with the demo")
	for _, no := range []string{file, file + "/below"} {
		assert.ErrorAs(t, Write(context.Background(), no, Options{}), &wrong)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	assert.ErrorIs(t, Write(ctx, filepath.Join(dir, "new"), Options{}), context.Canceled)
}
