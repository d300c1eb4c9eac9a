package history

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// standings tells where crimps stand and in which place, a line each.
func standings(all []Standing) []string {
	var lines []string
	for _, s := range all {
		lines = append(lines, fmt.Sprintf("%s in %s: %s, scan %d, %d elsewhere", s.Crimp.Called(), s.Source, s.Crimp.Result, s.Scan, len(s.Crimp.Elsewhere)))
	}
	return lines
}

func everywhere(t *testing.T, h *History) []string {
	t.Helper()
	var all []Standing
	require.NoError(t, h.List(context.Background(), Filter{}, func(s Standing) error { all = append(all, s); return nil }))
	return standings(all)
}

// One history for two roofs: each has a crimp 01 of string N. The good one of the one hides no bad one of the other, however
// often either is scanned, and what was measured of one elsewhere is not the other's.
func TestCrimpsOfTwoPlacesStandApart(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	n1 := func(bytes int, as record.Result) shot {
		return shot{"N_01.jpg", crimpOf("N", "01"), site.FromName, "", bytes, as, 50}
	}
	scanShots(t, h, "/roof B", n1(1, record.DoesNotConform))
	scanShots(t, h, "/roof A", n1(2, record.Conforms))
	scanShots(t, h, "/roof A", n1(2, record.Conforms))
	assert.Equal(t, []string{"N / 01 in /roof A: conforms, scan 3, 0 elsewhere", "N / 01 in /roof B: does_not_conform, scan 1, 0 elsewhere"}, everywhere(t, h))

	force := pull(320, "2026-11-20")
	force.Source = "/roof A"
	require.NoError(t, h.AddElsewhere(ctx, crimpOf("N", "01"), force))
	assert.Equal(t, []string{"N / 01 in /roof A: conforms, scan 3, 1 elsewhere", "N / 01 in /roof B: does_not_conform, scan 1, 0 elsewhere"}, everywhere(t, h))
	require.NoError(t, h.AddElsewhere(ctx, crimpOf("N", "01"), pull(330, "2026-11-20")))
	require.NoError(t, h.AddElsewhere(ctx, crimpOf("N", "02"), force))
	assert.Equal(t, []string{"N / 01 in /roof A: conforms, scan 3, 2 elsewhere", "N / 01 in /roof B: does_not_conform, scan 1, 1 elsewhere",
		"N / 02 in /roof A: , scan 0, 1 elsewhere"}, everywhere(t, h), "of which nobody said where counts in both; one without a picture stands where it was said")
	values, err := h.Elsewhere(ctx, crimpOf("N", "01"), "/roof B")
	require.NoError(t, err)
	assert.Len(t, values, 1)

	found, err := h.Named(ctx, "N / 01", "", "")
	require.NoError(t, err)
	require.Len(t, found, 2)
	story, err := h.Story(ctx, found[1])
	require.NoError(t, err)
	require.Len(t, story.Measurements, 1, "only what was measured in its place")
	assert.Equal(t, hash(1), story.Measurements[0].SHA256)

	scanShots(t, h, "/roof B", n1(3, record.Conforms))
	assert.Equal(t, []string{"N / 01 in /roof A: conforms, scan 3, 2 elsewhere", "N / 01 in /roof B: conforms, scan 4, 1 elsewhere"}, everywhere(t, h)[:2],
		"scanned again from the same path it is the same")
}

// A folder that was moved, copied or packed is the same place for the crimps of which any picture came along; a picture that
// was taken anew there takes the old one's place.
func TestAMovedFolderIsTheSamePlace(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	crimp := func(name string, bytes int, date string, as record.Result) shot {
		l := crimpOf("N", name)
		l.Date = date
		return shot{name + fmt.Sprint(bytes) + ".jpg", l, site.FromManifest, "", bytes, as, 50}
	}
	scanShots(t, h, "/before", crimp("01", 1, "", record.DoesNotConform), crimp("02", 2, "", record.DoesNotConform), crimp("03", 3, "2026-11-02", record.DoesNotConform))
	force := pull(320, "2026-11-20")
	force.Source = "/before"
	require.NoError(t, h.AddElsewhere(ctx, crimpOf("N", "01"), force))
	require.NoError(t, h.AddElsewhere(ctx, crimpOf("N", "02"), force))
	scanShots(t, h, "/after.zip", crimp("01", 1, "", record.DoesNotConform), crimp("02", 12, "", record.Conforms), crimp("03", 3, "2026-11-02", record.DoesNotConform), crimp("03", 13, "2026-11-09", record.Conforms))
	scanShots(t, h, "/after.zip", crimp("01", 11, "", record.Conforms), crimp("02", 12, "", record.Conforms), crimp("03", 13, "2026-11-09", record.Conforms))
	assert.Equal(t, []string{
		"N / 01 in /after.zip: conforms, scan 3, 1 elsewhere",
		"N / 02 in /after.zip: conforms, scan 3, 0 elsewhere", // nothing tells that these two are one: both stand
		"N / 02 in /before: does_not_conform, scan 1, 1 elsewhere",
		"N / 03 of 2026-11-02 in /after.zip: does_not_conform, scan 2, 0 elsewhere",
		"N / 03 of 2026-11-09 in /after.zip: conforms, scan 3, 0 elsewhere",
	}, everywhere(t, h))
	values, err := h.Elsewhere(ctx, crimpOf("N", "01"), "/after.zip")
	require.NoError(t, err)
	assert.Len(t, values, 1, "and what was measured elsewhere came along")
}

// A test piece that no picture shows belongs to the roof of which it was said to be, and comes along where that is moved.
func TestSamplesHaveAPlace(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	shotOf := func(bytes int) shot {
		return shot{"N_01.jpg", crimpOf("N", "01"), site.FromName, "", bytes, record.Conforms, 90}
	}
	a, b := scanShots(t, h, "/roof A", shotOf(1)), scanShots(t, h, "/roof B", shotOf(2))
	moved := scanShots(t, h, "/moved", shotOf(1))
	force := pull(320, "2026-11-20")
	force.Source = "/roof A"
	require.NoError(t, h.AddElsewhere(ctx, crimpOf("N", "P1"), force))
	for scan, want := range map[int64]int{a: 1, b: 0, moved: 1} {
		found, err := h.Samples(ctx, scan)
		require.NoError(t, err)
		assert.Len(t, found, want, "scan %d", scan)
	}
	require.NoError(t, h.AddElsewhere(ctx, crimpOf("N", "P2"), pull(320, "2026-11-20")))
	found, err := h.Samples(ctx, b)
	require.NoError(t, err)
	assert.Len(t, found, 1, "of which nobody said where")
}
