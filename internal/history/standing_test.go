package history

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// day is noon of a day of the demo's month.
func day(n int) time.Time { return time.Date(2026, 11, n, 12, 0, 0, 0, time.UTC) }

// at opens a new history whose clock stands where the pointer says.
func at(t testing.TB, now *time.Time) *History {
	h, err := Open(context.Background(), filepath.Join(t.TempDir(), "site-history.db"), Options{Now: func() time.Time { return *now }})
	require.NoError(t, err)
	t.Cleanup(func() { _ = h.Close() })
	require.NoError(t, h.KeepTolerances(context.Background(), demoTolerances))
	return h
}

// shot is a picture of a scan and what came of it; an empty result is a failure.
type shot struct {
	file  string
	label site.Label
	from  site.Origin
	tag   string
	bytes int // stands for its content
	as    record.Result
	score float64
}

func scanShots(t testing.TB, h *History, source string, shots ...shot) int64 {
	t.Helper()
	ctx := context.Background()
	var entries []Entry
	for i, s := range shots {
		entries = append(entries, Entry{Position: i, File: s.file, Label: s.label, Origin: s.from, Request: "{}", Tolerances: []string{demoTolerances.Hash}})
	}
	id, _, err := h.Begin(ctx, Scan{Source: source, Program: "v5"}, entries)
	require.NoError(t, err)
	for i, s := range shots {
		o := Outcome{Position: i, SHA256: hash(s.bytes), Key: Key{hash(s.bytes), "v5", "{}"}, Tolerances: demoTolerances.Hash, Tag: s.tag, Failure: "cut off: copy it again"}
		if s.as != "" {
			o.Failure, o.Record = "", judged(s.bytes, s.as)
			o.Record.Verdict.Score = s.score
			o.Record.Taken = "2026-11-1" + fmt.Sprint(s.bytes%10) + "T08:00:00"
		}
		require.NoError(t, h.Settle(ctx, id, o))
	}
	require.NoError(t, h.Finish(ctx, id))
	return id
}

func listed(t testing.TB, h *History, f Filter) []string {
	t.Helper()
	var names []string
	require.NoError(t, h.List(context.Background(), f, func(s Standing) error {
		names = append(names, fmt.Sprintf("%s: %s %g, %d pictures, %d elsewhere, scan %d, %s", s.Crimp.Name(), s.Crimp.Result, s.Crimp.Score,
			len(s.Crimp.Pictures), len(s.Crimp.Elsewhere), s.Scan, s.At.Format(time.DateOnly)))
		return nil
	}))
	return names
}

func TestListGivesTheLatestOfEachCrimp(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	s7 := func(crimp, crew string) site.Label {
		return site.Label{String: "S07", Crimp: crimp, Crew: crew, Tool: "tool 1"}
	}
	scanShots(t, h, "/first",
		shot{"S07_04_seam.jpg", s7("04", "crew A"), site.FromName, "", 1, record.DoesNotConform, 20},
		shot{"S07_04_side.jpg", s7("04", ""), site.FromName, "", 2, record.Conforms, 90},
		shot{"S07_03_seam.jpg", s7("03", "crew B"), site.FromName, "", 3, record.Conforms, 80},
		shot{"alone.jpg", site.Label{}, site.Alone, "", 4, record.NotProven, 60},
		shot{"IMG_1.jpg", site.Label{}, site.Alone, "tag 9", 5, record.Conforms, 70},
		shot{"S08_x.jpg", site.Label{String: "S08", Crimp: "x"}, site.FromName, "tag 9", 6, record.DoesNotConform, 10})
	now = day(2)
	second := scanShots(t, h, "/first", shot{"again.jpg", s7("04", "crew B"), site.FromManifest, "another tag", 7, record.Conforms, 85}, shot{"cut.jpg", s7("05", ""), site.FromManifest, "", 8, "", 0})
	pending, _, err := h.Begin(ctx, Scan{Source: "/third"}, []Entry{{File: "x.jpg", Label: s7("04", "")}})
	require.NoError(t, err)
	now = day(3)
	require.NoError(t, h.AddElsewhere(ctx, s7("03", ""), site.Elsewhere{Key: "torque"}))
	require.NoError(t, h.AddElsewhere(ctx, site.Label{String: "S99", Crimp: "1"}, site.Elsewhere{Key: "torque"}))

	assert.Equal(t, []string{
		"S07 / 03: conforms 80, 1 pictures, 1 elsewhere, scan 1, 2026-11-01",
		"S07 / 04: not_proven 69.9, 1 pictures, 0 elsewhere, scan 2, 2026-11-02",
		"S07 / 05: not_measured 0, 1 pictures, 0 elsewhere, scan 2, 2026-11-02",
		"alone.jpg: not_proven 60, 1 pictures, 0 elsewhere, scan 1, 2026-11-01",
		"tag 9: conforms 70, 1 pictures, 0 elsewhere, scan 1, 2026-11-01",
		"S08 / tag 9: does_not_conform 10, 1 pictures, 0 elsewhere, scan 1, 2026-11-01",
		"S99 / 1:  0, 0 pictures, 1 elsewhere, scan 0, 2026-11-03",
	}, listed(t, h, Filter{}))
	assert.Len(t, listed(t, h, Filter{Crew: "crew B"}), 2, "the crew of the latest scan counts")
	assert.Empty(t, listed(t, h, Filter{Crew: "crew A"}))
	assert.Len(t, listed(t, h, Filter{Since: day(2)}), 3)
	assert.Len(t, listed(t, h, Filter{Tool: "tool 1", String: "S07"}), 3)

	for name, want := range map[string]int{"04": 1, "S07 / 04": 1, "tag 9": 2, "S08 / tag 9": 1, "x": 0, "alone.jpg": 1, "1": 1, "S99 / 1": 1, "S07": 0, "": 0} {
		found, err := h.Named(ctx, name, "", "")
		require.NoError(t, err)
		assert.Len(t, found, want, "%q", name)
	}
	found, err := h.Named(ctx, "04", "S08", "")
	require.NoError(t, err)
	assert.Empty(t, found)
	require.NotEqual(t, second, pending)
}

func TestPastOfATrainee(t *testing.T) {
	ctx, now := context.Background(), day(21)
	h := at(t, &now)
	own := func(crimp, date string) site.Label {
		return site.Label{Trainee: "trainee 3", Crimp: crimp, Date: date, Tool: "tool 2"}
	}
	scanShots(t, h, "/monday",
		shot{"1.jpg", own("1", "2026-11-16"), site.FromManifest, "", 1, record.DoesNotConform, 30},
		shot{"2.jpg", own("2", "2026-11-16"), site.FromManifest, "", 2, record.Conforms, 80},
		shot{"other.jpg", site.Label{Trainee: "trainee 4", Crimp: "1", Tool: "tool 2"}, site.FromManifest, "", 3, record.Conforms, 99},
		shot{"undated.jpg", own("7", ""), site.FromManifest, "", 4, record.Conforms, 70})
	now = day(22)
	scanShots(t, h, "/friday", // the same numbers on another day are other crimps
		shot{"1.jpg", own("1", "2026-11-20"), site.FromManifest, "", 11, record.Conforms, 75},
		shot{"2.jpg", own("2", "2026-11-20"), site.FromManifest, "", 12, "", 0})
	now = day(23)
	scanShots(t, h, "/all", // all once more, from a folder that holds copies, judged by the same limits
		shot{"a/1.jpg", own("1", "2026-11-16"), site.FromManifest, "", 1, record.Conforms, 55},
		shot{"c/7.jpg", own("7", ""), site.FromManifest, "", 4, record.Conforms, 70})

	told := func(all []Past) []string {
		var lines []string
		for _, p := range all {
			lines = append(lines, fmt.Sprintf("%s %s: %s %g, scan %d, %s", p.When(), p.Label.Name(), p.Result, p.Score, p.Scan, p.SHA256[60:]))
		}
		return lines
	}
	all, err := h.Trainee(ctx, "trainee 3")
	require.NoError(t, err)
	assert.Equal(t, []string{
		"2026-11-14 trainee 3 / 7: conforms 70, scan 3, 0005",
		"2026-11-16 trainee 3 / 1: conforms 55, scan 3, 0002",
		"2026-11-16 trainee 3 / 2: conforms 80, scan 1, 0003",
		"2026-11-20 trainee 3 / 1: conforms 75, scan 2, 000c",
		"2026-11-20 trainee 3 / 2: not_measured 0, scan 2, 000d",
	}, told(all))
	all, err = h.Tool(ctx, "tool 2")
	require.NoError(t, err)
	assert.Len(t, all, 6)
	all, err = h.Trainee(ctx, "nobody")
	require.NoError(t, err)
	assert.Empty(t, all)
}

// large is a history of so many pictures, two of each crimp.
func large(b *testing.B, pictures int) *History {
	b.Helper()
	now := day(1)
	h := at(b, &now)
	var shots []shot
	for i := range pictures {
		label := site.Label{String: fmt.Sprintf("S%02d", i/200), Crimp: fmt.Sprintf("%03d", i%200/2), Crew: "crew A", Tool: fmt.Sprintf("tool %d", i%7/2), Trainee: fmt.Sprintf("trainee %d", i/1000)}
		shots = append(shots, shot{fmt.Sprintf("%d.jpg", i), label, site.FromName, "", i, record.Conforms, 80})
	}
	scanShots(b, h, "/large", shots...)
	return h
}

func BenchmarkTenThousand(b *testing.B) {
	ctx := context.Background()
	h := large(b, 10_000)
	count := 0
	list := func(f Filter) func(*testing.B) {
		return func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				count = 0
				require.NoError(b, h.List(ctx, f, func(Standing) error { count++; return nil }))
			}
		}
	}
	b.Run("list", list(Filter{}))
	require.Equal(b, 5000, count)
	b.Run("list a string", list(Filter{String: "S07"}))
	b.Run("trainee", func(b *testing.B) {
		for b.Loop() {
			_, err := h.Trainee(ctx, "trainee 3")
			require.NoError(b, err)
		}
	})
	b.Run("named", func(b *testing.B) {
		for b.Loop() {
			_, err := h.Named(ctx, "S07 / 042", "", "")
			require.NoError(b, err)
		}
	})
	b.Run("entries", func(b *testing.B) {
		for b.Loop() {
			_, err := h.Entries(ctx, 1)
			require.NoError(b, err)
		}
	})
	b.Run("picture", func(b *testing.B) {
		for b.Loop() {
			_, err := h.Picture(ctx, 1, 5000)
			require.NoError(b, err)
		}
	})
	b.Run("find", func(b *testing.B) {
		for b.Loop() {
			_, _, err := h.Find(ctx, Key{hash(5000), "v5", "{}"})
			require.NoError(b, err)
		}
	})
}

// TestPastStrippedWires: who counts crimps must be able to leave them out.
func TestPastStrippedWires(t *testing.T) {
	for view, stripped := range map[record.View]bool{record.Strip: true, record.Seam: false} {
		rec := record.New(view)
		assert.Equal(t, stripped, pastOf(Standing{Crimp: site.Crimp{Pictures: []site.Picture{{Record: &rec}}}}).Stripped)
	}
}
