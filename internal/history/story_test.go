package history

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// One picture is measured by two versions of the program and judged by two tolerances files, another one fails: all of it
// is told, the oldest first, and what belongs to other crimps is not.
func TestStory(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	stricter := Tolerances{Hash: hash(9001), Name: "stricter", File: "strict.yaml", Text: "view: seam\n"}
	require.NoError(t, h.KeepTolerances(ctx, stricter))
	label := site.Label{String: "S07", Crimp: "04", Crew: "crew A", Tool: "tool 1"}
	settle := func(program string, t2 Tolerances, result record.Result, crew string) {
		l := label
		l.Crew = crew
		id, _, err := h.Begin(ctx, Scan{Source: "/site", Program: program, Order: t2.Hash}, []Entry{
			{Position: 0, File: "04.jpg", Label: l, Origin: site.FromManifest, Request: "{}", Tolerances: []string{t2.Hash}},
			{Position: 1, File: "cut.jpg", Label: l, Origin: site.FromManifest, Request: "{}"},
			{Position: 2, File: "other.jpg", Label: site.Label{String: "S08", Crimp: "04"}, Origin: site.FromManifest, Request: "{}"}})
		require.NoError(t, err)
		r := judged(1, result)
		key := Key{hash(1), program, "{}"}
		m, _, err := h.Find(ctx, key)
		require.NoError(t, err)
		require.NoError(t, h.Settle(ctx, id, Outcome{Position: 0, SHA256: hash(1), Key: key, Record: r, Measurement: m.ID, Tolerances: t2.Hash}))
		require.NoError(t, h.Settle(ctx, id, Outcome{Position: 1, SHA256: hash(2), Failure: "cut off by " + program}))
		other := Key{hash(3), program, "{}"}
		require.NoError(t, h.Settle(ctx, id, Outcome{Position: 2, SHA256: hash(3), Key: other, Record: someRecord(3)}))
		require.NoError(t, h.Finish(ctx, id))
		now = now.Add(24 * time.Hour)
	}
	settle("v5", demoTolerances, record.Conforms, "crew A")
	settle("v5", stricter, record.DoesNotConform, "crew A")
	settle("v6", stricter, record.NotProven, "crew B")

	found, err := h.Named(ctx, "04", "S07", "")
	require.NoError(t, err)
	require.Len(t, found, 1)
	assert.Equal(t, []string{stricter.Hash}, found[0].Wanted)
	story, err := h.Story(ctx, found[0])
	require.NoError(t, err)
	var told []string
	for _, m := range story.Measurements {
		line := fmt.Sprintf("%s %s by %s, scans %v, %s:", m.Measured.Format(time.DateOnly), m.File, m.Program, m.Scans, m.Label.Crew)
		for _, v := range m.Verdicts {
			line += fmt.Sprintf(" %s by %s on %s;", v.Verdict.Result, v.Tolerances.Name, v.Judged.Format(time.DateOnly))
		}
		told = append(told, line)
		want := someRecord(1)
		want.Marks, want.Verdict = nil, nil
		assertSameJSON(t, want, m.Record)
	}
	assert.Equal(t, []string{
		"2026-11-01 04.jpg by v5, scans [1 2], crew B: conforms by demo on 2026-11-01; does_not_conform by stricter on 2026-11-02;",
		"2026-11-03 04.jpg by v6, scans [3], crew B: not_proven by stricter on 2026-11-03;",
	}, told)
	require.Len(t, story.Failures, 3)
	assert.Equal(t, Failed{Scan: 2, Tried: day(2), File: "cut.jpg", SHA256: hash(2), Why: "cut off by v5"}, story.Failures[1])

	scans, err := h.Scans(ctx)
	require.NoError(t, err)
	require.Len(t, scans, 3)
	assert.Equal(t, Tally{Scan: Scan{ID: 3, Source: "/site", Program: "v6", Order: stricter.Hash, Started: day(3), Finished: day(3)}, Pictures: 3, Recorded: 2, New: 2, Failed: 1}, scans[2])
	assert.Equal(t, []int{2, 2}, []int{scans[0].Recorded, scans[0].New})
	assert.Equal(t, 2, scans[1].Recorded)
	assert.Zero(t, scans[1].New, "the same program asked the same of the same pictures")
}

func assertSameJSON(t *testing.T, want, got any) {
	t.Helper()
	a, err := json.Marshal(want)
	require.NoError(t, err)
	b, err := json.Marshal(got)
	require.NoError(t, err)
	assert.Equal(t, string(a), string(b))
}

// What is handed to other programs: records and verdicts byte by byte as they were first written, and odd names whole.
func TestDump(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	odd := "latin-\xe9\n\"<b>.jpg"
	scanShots(t, h, "/site", shot{odd, site.Label{Crimp: "1"}, site.FromName, "", 1, record.Conforms, 80.5}, shot{"cut.jpg", site.Label{}, site.Alone, "", 2, "", 0})
	require.NoError(t, h.AddElsewhere(ctx, site.Label{Crimp: "1"}, site.Elsewhere{Key: "torque", Value: record.Value{Value: 3.1, U: 0.1, Unit: "N m"}, Who: "crew A", When: "2026-11-20"}))

	kinds := map[string]int{}
	require.NoError(t, h.Dump(ctx, func(row any) error {
		line, err := json.Marshal(row)
		require.NoError(t, err)
		var any struct {
			Kind       string
			FileQuoted string          `json:"file_quoted"`
			Record     json.RawMessage `json:"record"`
			Verdict    json.RawMessage `json:"verdict"`
		}
		require.NoError(t, json.Unmarshal(line, &any))
		kinds[any.Kind]++
		switch any.Kind {
		case "measurement":
			raw := judged(1, record.Conforms)
			raw.Taken, raw.Verdict = "2026-11-11T08:00:00", nil
			want, err := json.Marshal(raw)
			require.NoError(t, err)
			assert.Equal(t, string(want), string(any.Record))
		case "verdict":
			want, err := json.Marshal(judged(1, record.Conforms).Verdict)
			require.NoError(t, err)
			assert.Equal(t, string(want), string(any.Verdict))
		case "picture":
			if any.FileQuoted != "" {
				back, err := strconv.Unquote(any.FileQuoted)
				require.NoError(t, err)
				assert.Equal(t, odd, back)
			}
		}
		return nil
	}))
	assert.Equal(t, map[string]int{"scan": 1, "tolerances": 1, "measurement": 1, "verdict": 1, "picture": 2, "elsewhere": 1}, kinds)

	var shown []Shown
	require.NoError(t, h.Pictures(ctx, func(s Shown) error { shown = append(shown, s); return nil }))
	require.Len(t, shown, 2)
	assert.Equal(t, odd, shown[0].Picture.File)
	assert.Equal(t, record.Conforms, shown[0].Picture.Record.Verdict.Result)
	assert.Equal(t, "demo", shown[0].Tolerances.Name)
	assert.Equal(t, "cut off: copy it again", shown[1].Picture.Failure)
}

// BenchmarkBegin notes 10 000 pictures, and takes them up again.
func BenchmarkBegin(b *testing.B) {
	ctx := context.Background()
	entries := someEntries(10_000)
	b.Run("new", func(b *testing.B) {
		h := fresh(b)
		for b.Loop() {
			_, resumed, err := h.Begin(ctx, Scan{Source: strconv.Itoa(b.N) + time.Now().String()}, entries)
			require.NoError(b, err)
			require.False(b, resumed)
		}
	})
	b.Run("resumed", func(b *testing.B) {
		h := fresh(b)
		begin(b, h, entries)
		for b.Loop() {
			_, resumed, err := h.Begin(ctx, demoScan, entries)
			require.NoError(b, err)
			require.True(b, resumed)
		}
	})
}

// BenchmarkSettle keeps a picture's record with verdict.
func BenchmarkSettle(b *testing.B) {
	h := fresh(b)
	id := begin(b, h, someEntries(b.N))
	b.ResetTimer()
	for n := range b.N {
		require.NoError(b, h.Settle(context.Background(), id, outcomeOf(n)))
	}
}
