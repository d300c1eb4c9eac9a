package history

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

func open(t testing.TB, path string) *History {
	t.Helper()
	h, err := Open(context.Background(), path, Options{})
	require.NoError(t, err)
	t.Cleanup(func() { _ = h.Close() })
	return h
}

func fresh(t testing.TB) *History { return open(t, filepath.Join(t.TempDir(), "site-history.db")) }

// hash stands for a picture's SHA-256.
func hash(n int) string { return fmt.Sprintf("%064x", n+1) }

func someRecord(n int) *record.Record {
	r := record.New(record.Seam)
	r.Image, r.SHA256 = fmt.Sprintf("first/%d.jpg", n), hash(n)
	r.Set(record.BrushMean, 0.123456789, 0.0345678)
	r.Set(record.StrayCount, 1, 0)
	r.Miss(record.SeamAngle, `a reason with "quotes" <b>`)
	r.Scale = &record.Scale{Kind: "chessboard", MMPerPX: 0.0123456789, URel: 0.00345678, TiltDeg: 3.14159265}
	r.Note("sharpness", 0.98765, 3)
	r.Marks = []record.Mark{
		{Kind: record.MarkEdge, Key: record.BrushMean, Points: []record.Point{{X: 1.0 / 3, Y: -2e-7}, {X: 1234.5678901234, Y: 0}}},
		{Kind: record.MarkStrand, Points: []record.Point{{X: 1, Y: 2}}, Size: 0.0706858, Doubtful: true},
		{Kind: record.MarkTip},
	}
	return &r
}

func judged(n int, result record.Result) *record.Record {
	r := someRecord(n)
	score := 80.5
	r.Verdict = &record.Verdict{Result: result, Score: score, Tolerances: "demo", Features: []record.Feature{{Key: record.BrushMean, Result: result, Score: &score}}}
	return r
}

var demoTolerances = Tolerances{Hash: hash(9000), Name: "demo", File: "limits.yaml", Text: "view: seam\n"}

func someEntries(n int) []Entry {
	entries := make([]Entry, n)
	for i := range entries {
		entries[i] = Entry{Position: i, File: fmt.Sprintf("S%02d/%04d.jpg", i/100, i), Request: `{"view":"seam"}`, Origin: site.FromName,
			Label: site.Label{String: fmt.Sprintf("S%02d", i/100), Crimp: fmt.Sprintf("%04d", i), Crew: "crew A", Tool: fmt.Sprintf("tool %d", i%3), Date: "2026-11-20"}}
	}
	return entries
}

var demoScan = Scan{Source: "/site", Program: "v5", Order: `{}`, Out: "/out"}

func key(n int) Key { return Key{SHA256: hash(n), Program: "v5", Request: `{"view":"seam"}`} }

func outcomeOf(n int) Outcome {
	return Outcome{Position: n, SHA256: hash(n), Bytes: 1000 + int64(n), Key: key(n), Record: judged(n, record.Conforms), Tolerances: demoTolerances.Hash}
}

func begin(t testing.TB, h *History, entries []Entry) int64 {
	t.Helper()
	require.NoError(t, h.KeepTolerances(context.Background(), demoTolerances))
	id, resumed, err := h.Begin(context.Background(), demoScan, entries)
	require.NoError(t, err)
	require.False(t, resumed)
	return id
}

func TestRecordComesBackAsItWasWritten(t *testing.T) {
	ctx, h := context.Background(), fresh(t)
	id := begin(t, h, someEntries(2))
	require.NoError(t, h.Settle(ctx, id, outcomeOf(0)))

	m, found, err := h.Find(ctx, key(0))
	require.NoError(t, err)
	require.True(t, found)
	raw := someRecord(0)
	want, err := json.Marshal(raw)
	require.NoError(t, err)
	got, err := json.Marshal(m.Record)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(got), "the JSON of the record, without its verdict")
	assert.Equal(t, raw.Marks, m.Record.Marks, "marks to the last digit")
	assert.NotZero(t, m.ID)
	assert.WithinDuration(t, time.Now(), m.At, time.Minute)

	p, err := h.Picture(ctx, id, 0)
	require.NoError(t, err)
	assert.Equal(t, "S00/0000.jpg", p.Record.Image, "the file of this scan")
	assert.Equal(t, judged(0, record.Conforms).Verdict, p.Record.Verdict)
	assert.Equal(t, raw.Marks, p.Record.Marks)
	assert.Equal(t, someEntries(1)[0].Label, p.Label)
	assert.Equal(t, site.FromName, p.Origin)
	assert.Equal(t, demoTolerances.Hash, p.Tolerances)
	assert.Equal(t, int64(1000), p.Bytes)

	p, err = h.Picture(ctx, id, 1)
	require.NoError(t, err)
	assert.Nil(t, p.Record)
	assert.Empty(t, p.Failure)
	_, err = h.Picture(ctx, id, 2)
	assert.ErrorContains(t, err, "no picture 2")
	for _, other := range []Key{{hash(0), "v6", key(0).Request}, {hash(0), "v5", "{}"}, {hash(1), "v5", key(0).Request}} {
		_, found, err = h.Find(ctx, other)
		require.NoError(t, err)
		assert.False(t, found, "%v", other)
	}
}

// Records as the program wrote them for the demo's pictures come back byte by byte.
func TestRealRecordsComeBack(t *testing.T) {
	data, err := os.ReadFile("testdata/records.jsonl")
	require.NoError(t, err)
	ctx, h := context.Background(), fresh(t)
	id := begin(t, h, someEntries(50))
	n := 0
	for _, line := range bytes.Split(bytes.TrimSpace(data), []byte("\n")) {
		var r record.Record
		require.NoError(t, json.Unmarshal(line, &r))
		r.Verdict = nil
		want, err := json.Marshal(r)
		require.NoError(t, err)
		k := Key{SHA256: r.SHA256, Program: "v5", Request: "{}"}
		require.NoError(t, h.Settle(ctx, id, Outcome{Position: n, SHA256: r.SHA256, Key: k, Record: &r}))
		m, found, err := h.Find(ctx, k)
		require.NoError(t, err)
		require.True(t, found)
		got, err := json.Marshal(m.Record)
		require.NoError(t, err)
		assert.Equal(t, string(want), string(got))
		n++
	}
	assert.GreaterOrEqual(t, n, 2)
}

func TestFirstMeasurementStays(t *testing.T) {
	ctx, h := context.Background(), fresh(t)
	id := begin(t, h, someEntries(2))
	require.NoError(t, h.Settle(ctx, id, outcomeOf(0)))
	other := outcomeOf(0)
	other.Record.Set(record.BrushMean, 9, 9)
	require.NoError(t, h.Settle(ctx, id, other))
	m, _, err := h.Find(ctx, key(0))
	require.NoError(t, err)
	assert.InDelta(t, 0.123457, m.Record.Measured[record.BrushMean].Value, 1e-9)

	// The same bytes at another place: an earlier measurement serves, and only the verdict is noted once more.
	again := outcomeOf(0)
	again.Position, again.Measurement = 1, m.ID
	require.NoError(t, h.Settle(ctx, id, again))
	p, err := h.Picture(ctx, id, 1)
	require.NoError(t, err)
	assert.Equal(t, "S00/0001.jpg", p.Record.Image)
	assert.Equal(t, m.At, p.Measured)
	var verdicts int
	require.NoError(t, h.read.QueryRow(`SELECT count(*) FROM verdicts`).Scan(&verdicts))
	assert.Equal(t, 1, verdicts, "the same verdict is kept once")

	require.NoError(t, h.Settle(ctx, id, Outcome{Position: 1, Failure: "too late"}))
	p, err = h.Picture(ctx, id, 1)
	require.NoError(t, err)
	assert.Empty(t, p.Failure, "a failure never takes the place of a measurement")
}

func TestRawRowsCannotBeChanged(t *testing.T) {
	ctx, h := context.Background(), fresh(t)
	id := begin(t, h, someEntries(1))
	require.NoError(t, h.Settle(ctx, id, outcomeOf(0)))
	require.NoError(t, h.AddElsewhere(ctx, site.Label{Crimp: "04"}, site.Elsewhere{Key: "pull_out_force"}))
	for _, table := range []string{"pictures", "measurements", "verdicts", "tolerances", "elsewhere"} {
		_, err := h.write.Exec(`DELETE FROM ` + table)
		assert.ErrorContains(t, err, "never deleted", table)
	}
	for change, table := range map[string]string{"bytes = 1": "pictures", "record = ''": "measurements", "score = 100": "verdicts", "text = ''": "tolerances", "value = 1": "elsewhere"} {
		_, err := h.write.Exec(`UPDATE ` + table + ` SET ` + change)
		assert.ErrorContains(t, err, "never changed", table)
	}
}

func TestResume(t *testing.T) {
	ctx, h := context.Background(), fresh(t)
	entries := someEntries(4)
	id := begin(t, h, entries)
	for n := range 2 {
		require.NoError(t, h.Settle(ctx, id, outcomeOf(n)))
	}
	require.NoError(t, h.Settle(ctx, id, outcomeOf(3)))
	require.NoError(t, h.Settle(ctx, id, Outcome{Position: 2, SHA256: hash(2), Failure: "cut off"}))

	light, err := h.Entries(ctx, id)
	require.NoError(t, err)
	assert.Equal(t, []site.Entry{
		{Position: 0, Label: entries[0].Label, Origin: site.FromName, Settled: true, SHA256: hash(0)},
		{Position: 1, Label: entries[1].Label, Origin: site.FromName, Settled: true, SHA256: hash(1)},
		{Position: 2, Label: entries[2].Label, Origin: site.FromName, Settled: true, Failed: true, SHA256: hash(2)},
		{Position: 3, Label: entries[3].Label, Origin: site.FromName, Settled: true, SHA256: hash(3)},
	}, light)

	// Another picture came in front, one is asked for in another way, one file holds another picture, labels are new.
	moved := []Entry{{Position: 0, File: "new.jpg", Request: "{}"}}
	for _, e := range entries {
		e.Position++
		e.Label.Crew = "crew B"
		moved = append(moved, e)
	}
	moved[2].Request = `{"view":"side"}`
	again, resumed, err := h.Begin(ctx, demoScan, moved)
	require.NoError(t, err)
	assert.True(t, resumed)
	assert.Equal(t, id, again)
	require.NoError(t, h.Reopen(ctx, id, []int{4}))
	pending, err := h.Pending(ctx, id)
	require.NoError(t, err)
	assert.Equal(t, []int{0, 2, 3, 4}, pending)
	p, err := h.Picture(ctx, id, 1)
	require.NoError(t, err)
	assert.Equal(t, hash(0), p.SHA256)
	assert.Equal(t, record.Conforms, p.Record.Verdict.Result)
	assert.Equal(t, "crew B", p.Label.Crew)

	for _, other := range []Scan{scanOf("/other", "v5", "{}", "/out"), scanOf("/site", "v6", "{}", "/out"), scanOf("/site", "v5", "[]", "/out"), scanOf("/site", "v5", "{}", "/o")} {
		_, resumed, err := h.Begin(ctx, other, nil)
		require.NoError(t, err)
		assert.False(t, resumed, "%v", other)
	}
	require.NoError(t, h.Finish(ctx, id))
	third, resumed, err := h.Begin(ctx, demoScan, entries)
	require.NoError(t, err)
	assert.False(t, resumed, "a finished scan is not taken up again")
	assert.NotEqual(t, id, third)
}

// TestResumeTellsTheTagAnew: a tag that said what the name said is told of again once the name says something else.
func TestResumeTellsTheTagAnew(t *testing.T) {
	ctx, h := context.Background(), fresh(t)
	entries := someEntries(1)
	entries[0].Label, entries[0].Origin = site.Label{Crimp: "9"}, site.FromName
	id := begin(t, h, entries)
	o := outcomeOf(0)
	o.Record.Tag = "crimp 9"
	o.Tag = entries[0].Label.Told(site.FromName, o.Record.Tag)
	require.NoError(t, h.Settle(ctx, id, o))
	for crimp, want := range map[string]string{"9": "", "8": "crimp 9"} {
		entries[0].Label.Crimp = crimp
		_, resumed, err := h.Begin(ctx, demoScan, entries)
		require.NoError(t, err)
		require.True(t, resumed)
		light, err := h.Entries(ctx, id)
		require.NoError(t, err)
		assert.Equal(t, want, light[0].Tag, crimp)
	}
}

func scanOf(source, program, order, out string) Scan {
	return Scan{Source: source, Program: program, Order: order, Out: out}
}

func TestAppend(t *testing.T) {
	ctx, h := context.Background(), fresh(t)
	entries := someEntries(3)
	entries[1].Tolerances = []string{"limits.yaml", "with \"quotes\" and\nnewline \xff.yaml"}
	id := begin(t, h, entries[:1])
	require.NoError(t, h.Append(ctx, id, entries[1:]))
	got, err := h.Entries(ctx, id)
	require.NoError(t, err)
	require.Len(t, got, 3)
	assert.Equal(t, site.Entry{Position: 2, Label: entries[2].Label, Origin: site.FromName}, got[2])
	assert.Error(t, h.Append(ctx, id, entries[2:]), "the position is taken")
	e, err := h.Entry(ctx, id, 1)
	require.NoError(t, err)
	assert.Equal(t, entries[1], e)
}
