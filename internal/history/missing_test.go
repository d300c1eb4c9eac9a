package history

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/elsewhere"
	"crimprule/internal/site"
	"crimprule/vision/record"
)

// missed tells what is missing from a scan, a line each.
func missed(t testing.TB, h *History, scan int64) []string {
	t.Helper()
	all, err := h.Missing(context.Background(), scan)
	require.NoError(t, err)
	var lines []string
	for _, s := range all {
		line := fmt.Sprintf("%s: %s %g, scan %d", s.Crimp.Name(), s.Crimp.Result, s.Crimp.Score, s.Scan)
		if day := s.Crimp.ReplacedBy(); day != "" {
			line = s.Crimp.Called() + strings.TrimPrefix(line, s.Crimp.Name()) + ", " + site.ReplacedText(day)
		}
		lines = append(lines, line)
	}
	return lines
}

func crimpOf(str, crimp string) site.Label { return site.Label{String: str, Crimp: crimp} }

// Somebody scans, takes pictures of bad crimps away, and scans again: that is told, scan after scan, until the crimp is back.
func TestMissingTellsWhatWasTakenAway(t *testing.T) {
	now := day(1)
	h := at(t, &now)
	good := shot{"S07_01.jpg", crimpOf("S07", "01"), site.FromName, "", 1, record.Conforms, 90}
	bad := shot{"S07_02.jpg", crimpOf("S07", "02"), site.FromName, "", 2, record.DoesNotConform, 20}
	side := shot{"S07_02_side.jpg", crimpOf("S07", "02"), site.FromName, "", 3, record.Conforms, 95}
	doubtful := shot{"S07_03.jpg", crimpOf("S07", "03"), site.FromName, "", 4, record.NotProven, 60}
	unread := shot{"cut.jpg", site.Label{}, site.Alone, "", 5, "", 0}
	tagged := shot{"IMG_1.jpg", site.Label{}, site.Alone, "T-9", 6, record.NotMeasured, 0}
	fine := shot{"S07_04.jpg", crimpOf("S07", "04"), site.FromName, "", 7, record.Conforms, 85}
	first := scanShots(t, h, "/site", good, bad, side, doubtful, unread, tagged, fine)
	assert.Empty(t, missed(t, h, first))
	all := []string{"S07 / 02: does_not_conform 20, scan 1", "S07 / 03: not_proven 60, scan 1", "cut.jpg: not_measured 0, scan 1", "T-9: not_measured 0, scan 1"}
	assert.Equal(t, all, missed(t, h, scanShots(t, h, "/site", good)), "what conformed is not missed")
	assert.Equal(t, all, missed(t, h, scanShots(t, h, "/site", good)), "nor is it forgotten")
	assert.Empty(t, missed(t, h, scanShots(t, h, "/elsewhere", good)), "another source")
	assert.Empty(t, missed(t, h, first), "the earlier scans of the first")

	again := bad
	again.bytes, again.as = 12, record.Conforms
	assert.Equal(t, all[1:], missed(t, h, scanShots(t, h, "/site", good, again)), "made anew")
	assert.Equal(t, all[1:], missed(t, h, scanShots(t, h, "/site", good)), "the latest result counts, and it conformed")
}

// A picture that only has another name now is not missing, nor one that was taken again because its tag could not be read.
func TestMissingKnowsPicturesByTheirBytes(t *testing.T) {
	now := day(1)
	h := at(t, &now)
	scanShots(t, h, "/site",
		shot{"a.jpg", site.Label{}, site.Alone, "", 1, record.DoesNotConform, 20},
		shot{"S07_02.jpg", crimpOf("S07", "02"), site.FromName, "", 2, record.DoesNotConform, 30},
		shot{"S07_02_side.jpg", crimpOf("S07", "02"), site.FromName, "", 3, record.Conforms, 90},
		shot{"S07_03.jpg", crimpOf("S07", "03"), site.FromName, "", 4, record.NotMeasured, 0},
		shot{"IMG_5.jpg", site.Label{}, site.Alone, "", 5, record.NotMeasured, 0},
		shot{"IMG_6.jpg", site.Label{}, site.Alone, "T-6", 6, record.DoesNotConform, 10},
		shot{"IMG_7.jpg", site.Label{}, site.Alone, "T-7", 7, record.DoesNotConform, 11})
	second := scanShots(t, h, "/site",
		shot{"moved/a.jpg", crimpOf("S01", "1"), site.FromManifest, "", 1, record.DoesNotConform, 20},
		shot{"good.jpg", crimpOf("S09", "9"), site.FromName, "", 3, record.Conforms, 90}, // of two pictures only one is still there
		shot{"S07_03.jpg", crimpOf("S07", "03"), site.FromName, "T-3", 14, record.Conforms, 80},
		shot{"IMG_5.jpg", site.Label{}, site.Alone, "T-5", 15, record.Conforms, 80},
		shot{"IMG_6.jpg", site.Label{}, site.Alone, "", 16, record.Conforms, 80},
		shot{"IMG_7.jpg", site.Label{}, site.Alone, "T-77", 17, record.Conforms, 80}) // another crimp, by its tag
	assert.Equal(t, []string{"S07 / 02: does_not_conform 30, scan 1", "T-7: does_not_conform 11, scan 1"}, missed(t, h, second))
}

// A crimp that was made anew later is not missing any more: it is named as replaced, as long as any scan knows the new one.
// Whether that is a good one does not matter to the old one.
func TestMissingKnowsWhatWasMadeAnew(t *testing.T) {
	now := day(1)
	h := at(t, &now)
	made := func(bytes int, date string, as record.Result) shot {
		return shot{fmt.Sprintf("%d.jpg", bytes), site.Label{String: "N03", Crimp: "1", Date: date}, site.FromManifest, "", bytes, as, float64(bytes)}
	}
	other := shot{file: "x.jpg", from: site.Alone, bytes: 9, as: record.Conforms, score: 80}
	replaced := []string{"N03 / 1 of 2026-11-02: does_not_conform 1, scan 1, replaced by the crimp of 2026-11-09"}
	scanShots(t, h, "/site", made(1, "2026-11-02", record.DoesNotConform))
	assert.Equal(t, replaced, missed(t, h, scanShots(t, h, "/site", made(2, "2026-11-09", record.Conforms))))
	assert.Equal(t, replaced, missed(t, h, scanShots(t, h, "/site", other)), "the new one conformed, and is not here either")
	scanShots(t, h, "/shed", made(1, "2026-11-02", record.DoesNotConform))
	assert.Equal(t, []string{"N03 / 1: does_not_conform 1, scan 4"}, missed(t, h, scanShots(t, h, "/shed", made(3, "2026-10-30", record.Conforms))), "an earlier one replaces none")
}

// Crimps of one name that were made on different days are different ones.
func TestMissingTellsDaysApart(t *testing.T) {
	now := day(1)
	h := at(t, &now)
	made := func(bytes int, date string, as record.Result) shot {
		return shot{fmt.Sprintf("%d.jpg", bytes), site.Label{Trainee: "trainee 3", Crimp: "1", Date: date}, site.FromManifest, "", bytes, as, float64(bytes)}
	}
	scanShots(t, h, "/site", made(1, "2026-11-02", record.DoesNotConform), made(2, "2026-11-09", record.NotProven), made(3, "2026-11-16", record.Conforms))
	assert.Equal(t, []string{"trainee 3 / 1: does_not_conform 1, scan 1"},
		missed(t, h, scanShots(t, h, "/site", made(4, "2026-11-09", record.Conforms))))
	assert.Equal(t, []string{"trainee 3 / 1: does_not_conform 1, scan 1"}, missed(t, h, scanShots(t, h, "/site", shot{file: "x.jpg", from: site.Alone, bytes: 9, as: record.Conforms, score: 80})),
		"the second one conformed in the second scan")
	assert.Empty(t, missed(t, h, scanShots(t, h, "/site", made(5, "", record.Conforms))), "no date may be any")
}

// A crimp whose pictures conform but whose pull-out force does not is a bad one too; a scan without limits decides nothing.
func TestMissingJudgesWhatWasMeasuredElsewhere(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	limits := Tolerances{Hash: hash(9100), Name: "pull", File: "pull.yaml", Text: "limits: {bend: {max: 3 deg}}\nelsewhere: {pull_out_force: {min: 310 N}}\n"}
	require.NoError(t, h.KeepTolerances(ctx, limits))
	crimp := crimpOf("S07", "01")
	require.NoError(t, h.AddElsewhere(ctx, crimp, site.Elsewhere{Key: elsewhere.PullOutForce, Value: record.Value{Value: 250, U: 5, Unit: "N"}, When: "2026-11-20"}))
	once := func(order string, entry Entry, o *Outcome) int64 {
		id, _, err := h.Begin(ctx, Scan{Source: "/site", Program: "v5", Order: order}, []Entry{entry})
		require.NoError(t, err)
		if o != nil {
			require.NoError(t, h.Settle(ctx, id, *o))
		}
		require.NoError(t, h.Finish(ctx, id))
		return id
	}
	entry := Entry{File: "S07_01.jpg", Label: crimp, Origin: site.FromName, Request: "{}", Tolerances: []string{limits.Hash}}
	k := Key{hash(1), "v5", "{}"}
	judgedOnce := Outcome{SHA256: hash(1), Key: k, Record: judged(1, record.Conforms), Tolerances: limits.Hash}
	once("limits", entry, &judgedOnce)
	entry.Tolerances = nil
	once("no limits", entry, &Outcome{SHA256: hash(1), Key: k, Record: someRecord(1)})
	assert.Equal(t, []string{"S07 / 01: does_not_conform 0, scan 1"}, missed(t, h, once("limits", Entry{File: "x.jpg"}, nil)))
}

// A scan is interrupted, the picture of a bad crimp is taken away, and the same call comes again: it does not go on as if
// the picture had never been there.
func TestMissingAfterAnInterruption(t *testing.T) {
	ctx := context.Background()
	h := fresh(t)
	entries := someEntries(4)
	for i := range entries {
		entries[i].Tolerances = []string{demoTolerances.Hash}
	}
	first := begin(t, h, entries)
	bad := outcomeOf(1)
	bad.Record = judged(1, record.DoesNotConform)
	require.NoError(t, h.Settle(ctx, first, bad))
	require.NoError(t, h.Settle(ctx, first, outcomeOf(2)))
	second, resumed, err := h.Begin(ctx, demoScan, append([]Entry{entries[0]}, entries[2:]...))
	require.NoError(t, err)
	assert.False(t, resumed)
	assert.NotEqual(t, first, second)
	assert.Equal(t, []string{"S00 / 0001: does_not_conform 80.5, scan 1"}, missed(t, h, second))
	third, resumed, err := h.Begin(ctx, demoScan, entries[2:])
	require.NoError(t, err)
	assert.True(t, resumed, "what had no outcome yet may go")
	assert.Equal(t, second, third)
}

// BenchmarkMissing asks after 10 000 pictures of which 100 are gone, and of which all are, after three scans.
func BenchmarkMissing(b *testing.B) {
	now := day(1)
	h := at(b, &now)
	var shots []shot
	for i := range 10_000 {
		shots = append(shots, shot{fmt.Sprintf("%d.jpg", i), crimpOf(fmt.Sprintf("S%02d", i/100), fmt.Sprintf("%02d", i%100)), site.FromName, "", i, record.DoesNotConform, 20})
	}
	for range 3 {
		scanShots(b, h, "/site", shots...)
		now = now.Add(time.Hour)
	}
	ask := func(scan int64, want int) func(*testing.B) {
		return func(b *testing.B) {
			for b.Loop() {
				assert.Len(b, missed(b, h, scan), want)
			}
		}
	}
	b.Run("100 gone", ask(scanShots(b, h, "/site", shots[100:]...), 100))
	b.Run("all gone", ask(scanShots(b, h, "/site", shot{file: "x.jpg", from: site.Alone, bytes: 20_000, as: record.Conforms}), 10_000))
}
