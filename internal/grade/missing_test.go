package grade

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/evidence"
	"crimprule/internal/site"
	"crimprule/vision/record"
)

// gone is what an earlier scan knew of a crimp of a trainee, or of a stripped wire.
func gone(trainee, crimp string, result record.Result, view record.View) evidence.Missing {
	label := site.Label{Trainee: trainee, Crimp: crimp}
	rec := record.New(view)
	c := site.Crimp{Label: label, Pictures: []site.Picture{{File: "bench/" + crimp + ".jpg", Label: label, Record: &rec}}}
	return evidence.Missing{Name: c.Name(), Result: result, When: time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC), Crimp: c}
}

// TestMissingCrimpsReachNoMark: who deletes the photos of two bad crimps has five good ones in a row, and has not reached the
// mark. All outputs say which crimps are missing.
func TestMissingCrimpsReachNoMark(t *testing.T) {
	w := newWorkshop(t)
	w.add("Zed", "", "", times(5, good)...)
	w.add("Amy", "", "", times(5, good)...)
	mark := Mark{Row: 5}
	missing := []evidence.Missing{gone("Zed", "crimp-10", no, record.Seam), gone("Zed", "crimp-7", no, record.Seam), gone("Amy", "wire", record.NotProven, record.Strip)}
	r := gradedWith(t, w, Options{Mark: mark, Missing: missing})
	amy, zed := r.Trainees[0], r.Trainees[1]
	assert.Equal(t, Row{5, 5, 5, Open}, zed.Row)
	const words = "Open: the longest row in these pictures has 5, the mark asks for 5 crimps in a row that conform, but crimps are missing. " +
		"NOT AMONG THESE PICTURES: 2 crimps of earlier scans are missing here: Zed / crimp-7 did not conform on 2026-05-04, Zed / crimp-10 did not conform on " +
		"2026-05-04. Until they are here again, good or bad, the mark cannot be reached: put the photos back."
	assert.Equal(t, words, zed.Words(mark))
	assert.Equal(t, Reached, amy.Row.Standing, "a stripped wire is in no row")
	assert.Contains(t, amy.Words(mark), "NOT AMONG THESE PICTURES: 1 stripped wire of an earlier scan is missing here: Amy / wire (a stripped wire) was not proven on 2026-05-04.")

	dir := t.TempDir()
	require.NoError(t, Write(dir, workshopInfo(), r))
	assert.Contains(t, text(read(t, dir, "02.html")), words)
	samePDF(t, dir, 1, zed, mark)
	for _, want := range []string{"Not among these pictures", "Zed : Zed / crimp-10 did not conform on 2026-05-04"} {
		assert.Contains(t, text(read(t, dir, "index.html")), want)
	}
	assert.Contains(t, read(t, dir, "grade.json"), `"crimp": "Zed / crimp-10"`)
}

// TestManyMissingCrimps are some in a sentence, and all on the sheet.
func TestManyMissingCrimps(t *testing.T) {
	w := newWorkshop(t)
	w.add("Zed", "", "", good)
	var missing []evidence.Missing
	for _, name := range []string{"1", "2", "3", "4", "5", "6", "7"} {
		missing = append(missing, gone("Zed", name, no, record.Seam))
	}
	r := gradedWith(t, w, Options{Mark: UsualMark, Missing: missing})
	assert.Contains(t, r.Trainees[0].Words(r.Mark), "Zed / 5 did not conform on 2026-05-04 and 2 more. Until")
	dir := t.TempDir()
	require.NoError(t, Write(dir, workshopInfo(), r))
	for _, name := range []string{"01.html", "index.html"} {
		assert.Contains(t, text(read(t, dir, name)), "Zed / 7 did not conform on 2026-05-04", name)
	}
}

// TestWhoIsMissingAltogether is not forgotten: of a trainee all of whose photos are gone there is a sheet.
func TestWhoIsMissingAltogether(t *testing.T) {
	w := newWorkshop(t)
	w.add("Amy", "", "", good)
	m := gone("", "crimp-1", "", record.Seam)
	m.Crimp.Pictures[0].File = "Zed/crimp-1.jpg"
	r := gradedWith(t, w, Options{Mark: Mark{Row: 1}, Missing: []evidence.Missing{m}})
	require.Len(t, r.Trainees, 2)
	assert.Equal(t, "Zed", r.Trainees[1].Name)
	assert.Equal(t, NotReached, r.Trainees[1].Row.Standing)
	assert.Contains(t, r.Trainees[1].Words(r.Mark), "these pictures show no crimp; the mark asks for 1 crimp that conforms. NOT AMONG THESE PICTURES: 1 crimp of an earlier scan is missing")
	require.NoError(t, Write(t.TempDir(), workshopInfo(), r))
	_, err := Of(context.Background(), newWorkshop(t), Options{})
	require.NoError(t, err)
}
