package terminal

import (
	"bytes"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"crimprule/internal/statistics"
)

// TestLot: what a person reads of plans with and without arrows, and of every outcome.
func TestLot(t *testing.T) {
	for name, c := range map[string]struct {
		size   int
		sample []int // bad, open, inspected
	}{
		"lot_plain.txt": {500, nil}, "lot_arrow.txt": {100, []int{1, 0, 13}}, "lot_whole.txt": {10, []int{0, 0, 10}},
		"lot_open.txt": {500, []int{1, 2, 50}}, "lot_more.txt": {500, []int{0, 0, 30}}, "lot_surplus.txt": {500, []int{2, 0, 60}},
		"lot_accepted.txt": {500, []int{1, 0, 50}},
	} {
		plan, err := statistics.LotPlan(c.size, "II", 1)
		require.NoError(t, err)
		var sample *statistics.Sample
		if c.sample != nil {
			s := plan.Inspect(c.sample[0], c.sample[1], c.sample[2])
			sample = &s
		}
		var out bytes.Buffer
		require.NoError(t, New(&out, io.Discard).Lot(plan, sample))
		golden(t, name, out.String())
	}
}
