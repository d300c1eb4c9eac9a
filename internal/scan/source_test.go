package scan

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/vision/record"
)

// ended keeps what a scan comes to.
type ended struct {
	silent
	result Result
}

func (e *ended) Written(r Result) error {
	e.result = r
	return nil
}

// scanned writes pictures into the folder "photos", scans it and gives what it came to.
func scanned(t *testing.T, o Options, dir string, files ...string) Result {
	t.Helper()
	for _, name := range files {
		path := filepath.Join(dir, "photos", filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		if _, err := os.Stat(path); err != nil {
			require.NoError(t, os.WriteFile(path, []byte(name), 0o644))
		}
	}
	var e ended
	require.NoError(t, Run(t.Context(), o, &e))
	return e.result
}

// A test piece that no picture shows is a crimp of the evidence: on the list, with a page of its own, in the table, the yield and
// the answer.
func TestATestPieceIsInTheEvidence(t *testing.T) {
	dir := t.TempDir()
	limits := filepath.Join(dir, "limits.yaml")
	require.NoError(t, os.WriteFile(limits, []byte("name: canopy\nlimits: {bend: {max: 3 deg}}\nelsewhere: {pull_out_force: {min: 310 N}}\n"), 0o644))
	o := benchOptions(dir, 1)
	o.Tolerances, o.Pattern = []string{limits}, "{trainee}/{crimp}"
	require.Len(t, scanned(t, o, dir, "Zoe/1.jpg").Crimps, 1)
	h, err := history.Open(context.Background(), o.History, history.Options{})
	require.NoError(t, err)
	add := func(trainee, crimp string, newton float64) {
		e := site.Elsewhere{Key: "pull_out_force", Value: record.Value{Value: newton, U: 5, Unit: "N"}, Who: "trainer", When: "2026-11-20"}
		require.NoError(t, h.AddElsewhere(context.Background(), site.Label{Trainee: trainee, Crimp: crimp}, e))
	}
	add("Zoe", "piece-10", 100)
	add("Zoe", "piece-9", 400)
	add("Max", "piece-1", 100)
	require.NoError(t, h.Close())

	result := scanned(t, o, dir)
	require.Len(t, result.Crimps, 3, "Max has no picture here")
	assert.Equal(t, "Zoe / piece-9", result.Crimps[1].Name)
	assert.Equal(t, record.Conforms, result.Crimps[1].Result)
	bad := result.Crimps[2]
	assert.Equal(t, Brief{Number: 3, Name: "Zoe / piece-10", Result: record.DoesNotConform, Score: bad.Score, Tested: true,
		Why: "pull-out force 100 ± 5 N (at least 310 N), measured elsewhere"}, bad)
	assert.Contains(t, result.Summary.Answer, "1 crimp without a picture does not conform by values measured elsewhere")
	assert.Equal(t, 2, result.Summary.Judged, "both pieces are in the yield")
	untested := "Limits are set for values that no picture yields and that were not entered for all: pull-out force (no value for 1 of 3 crimps); crimprule history add enters them."
	assert.Equal(t, untested, result.Summary.Untested)
	assert.Contains(t, readFile(t, o.Out, "index.html"), untested)
	page := readFile(t, o.Out, "crimps/0003.html")
	for _, text := range []string{"Zoe / piece-10", "no picture: known by values measured elsewhere only", "100 ± 5 N", "trainer", "2026-11-20", "hold back what this set-up made"} {
		assert.Contains(t, page, text)
	}
	assert.Contains(t, readFile(t, o.Out, "crimps.csv"), "3,Zoe / piece-10,")
	assert.Equal(t, 1, strings.Count(readFile(t, o.Out, "records.jsonl"), `"picture":`), "a line a picture")
	assert.Contains(t, readFile(t, o.Out, "index.html"), `href="crimps/0003.html"`)
}

func readFile(t *testing.T, dir, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
	require.NoError(t, err)
	return string(data)
}
