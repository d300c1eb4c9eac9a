package history

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/elsewhere"
	"crimprule/internal/site"
	"crimprule/vision/record"
)

// limits keeps a tolerances file and gives its hash.
func limits(t *testing.T, h *History, name, text string) string {
	sum := sha256.Sum256([]byte(text))
	hash := hex.EncodeToString(sum[:])
	require.NoError(t, h.KeepTolerances(context.Background(), Tolerances{Hash: hash, Name: name, File: name + ".yaml", Text: text}))
	return hash
}

func force(newton float64) site.Elsewhere {
	return site.Elsewhere{Key: elsewhere.PullOutForce, Value: record.Value{Value: newton, U: 5, Unit: "N"}, Who: "trainer", When: "2026-11-20"}
}

// A crimp that no picture shows is one of the scan where string and trainee are, and is judged by the limits for its like; of
// several files without a better one the strictest counts.
func TestSamplesBelongToTheScanOfTheirLike(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	loose := limits(t, h, "loose", "name: loose\nlimits: {bend: {max: 3 deg}}\nelsewhere: {pull_out_force: {min: 200 N}}\n")
	strict := limits(t, h, "strict", "name: strict\nlimits: {bend: {max: 3 deg}}\nelsewhere: {pull_out_force: {min: 310 N}, torque: {min: 2 N m}}\n")
	entries := []Entry{
		{File: "Zoe/1.jpg", Label: site.Label{}, Origin: site.Alone, Tolerances: []string{loose}},
		{Position: 1, File: "2.jpg", Label: site.Label{String: "S07", Trainee: "Max", Crimp: "2"}, Origin: site.FromManifest, Tolerances: []string{loose, strict}},
		{Position: 2, File: "3.jpg", Label: site.Label{String: "S08", Crimp: "3"}, Origin: site.FromManifest, Tolerances: nil},
	}
	scan, _, err := h.Begin(ctx, Scan{Source: "/class", Program: "v5"}, entries)
	require.NoError(t, err)
	for _, add := range []struct {
		label site.Label
		value site.Elsewhere
	}{
		{site.Label{Trainee: "Zoe", Crimp: "crimp-9"}, force(250)},                                                                                 // by loose: the file of her picture
		{site.Label{Trainee: "Zoe", Crimp: "crimp-10"}, site.Elsewhere{Key: elsewhere.Torque, Value: record.Value{Value: 1, U: 0.1, Unit: "N m"}}}, // hers has no limit for it
		{site.Label{String: "S07", Trainee: "Max", Crimp: "9"}, force(250)},                                                                        // by both, strict finds it bad
		{site.Label{String: "S07", Trainee: "Max", Crimp: "2"}, force(100)},                                                                        // it has a picture
		{site.Label{String: "S08", Crimp: "4"}, force(250)},                                                                                        // its like has no limits: those of the scan
		{site.Label{String: "S09", Crimp: "4"}, force(250)},                                                                                        // of no like here
		{site.Label{Crimp: "piece"}, force(250)},                                                                                                   // as little is known of the first picture's crimp
		{site.Label{Trainee: "Zoe", Crimp: "withdrawn"}, force(1)},
	} {
		require.NoError(t, h.AddElsewhere(ctx, add.label, add.value))
	}
	require.NoError(t, h.Withdraw(ctx, 8, "trainer", "typing error"))
	told := func(all []Standing) []string {
		var lines []string
		for _, s := range all {
			by := ""
			if v := s.Crimp.ElsewhereVerdict; v != nil {
				by = v.Tolerances
			}
			lines = append(lines, fmt.Sprintf("%s: %s by %s", s.Crimp.Name(), s.Crimp.Result, by))
		}
		return lines
	}
	want := []string{"piece: conforms by loose", "Zoe / crimp-10: does_not_conform by strict", "Zoe / crimp-9: conforms by loose", "S07 / Max / 9: does_not_conform by strict",
		"S08 / 4: does_not_conform by strict"}
	all, err := h.Samples(ctx, scan)
	require.NoError(t, err)
	assert.Equal(t, want, told(all))

	judge := h.NewJudge()
	var list []Standing
	require.NoError(t, h.List(ctx, Filter{}, func(s Standing) error {
		require.NoError(t, judge.Settle(ctx, &s))
		list = append(list, s)
		return nil
	}))
	assert.Subset(t, told(list), want, "the list says the same")

	past, err := h.Trainee(ctx, "Max")
	require.NoError(t, err)
	require.Len(t, past, 1, "the one with a picture is not settled")
	assert.Equal(t, "2026-11-20 S07 / Max / 9 does_not_conform", past[0].When()+" "+past[0].Label.Name()+" "+string(past[0].Result))

	none, err := h.Samples(ctx, scan+1)
	require.NoError(t, err)
	assert.Empty(t, none)
}

// A section belongs to a laboratory's scan, and so do its test pieces, whatever the section's string.
func TestSamplesOfALaboratory(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	scan, _, err := h.Begin(ctx, Scan{Source: "/lab", Program: "v5"}, []Entry{{File: "T1.jpg", Label: site.Label{String: "T", Crimp: "1"}, Origin: site.FromManifest,
		Tolerances: []string{limits(t, h, "l", "name: l\nlimits: {bend: {max: 3 deg}}\nelsewhere: {pull_out_force: {min: 310 N}}\n")}}})
	require.NoError(t, err)
	require.NoError(t, h.AddElsewhere(ctx, site.Label{Crimp: "pull 1"}, force(250)))
	none, err := h.Samples(ctx, scan)
	require.NoError(t, err)
	assert.Empty(t, none)
	rec := record.New(record.Section)
	rec.SHA256 = hash(1)
	require.NoError(t, h.Settle(ctx, scan, Outcome{SHA256: hash(1), Key: Key{hash(1), "v5", ""}, Record: &rec}))
	all, err := h.Samples(ctx, scan)
	require.NoError(t, err)
	require.Len(t, all, 1)
	assert.Equal(t, record.DoesNotConform, all[0].Crimp.Result)
}
