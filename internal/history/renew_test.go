package history

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// A watched scan whose pictures change goes on as another scan: what is known stays known, and what was bad and was taken
// away is missed.
func TestRenewKeepsWhatIsKnown(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	first := scanShots(t, h, "/site",
		shot{"S07_01.jpg", crimpOf("S07", "01"), site.FromName, "", 1, record.Conforms, 90},
		shot{"S07_02.jpg", crimpOf("S07", "02"), site.FromName, "", 2, record.DoesNotConform, 20},
		shot{"S07_03.jpg", crimpOf("S07", "03"), site.FromName, "", 3, record.Conforms, 80})
	entry := func(position int, crimp string) Entry {
		return Entry{Position: position, File: "S07_" + crimp + ".jpg", Label: crimpOf("S07", crimp), Origin: site.FromName, Request: "{}", Tolerances: []string{demoTolerances.Hash}}
	}
	second, err := h.Renew(ctx, first, []Entry{entry(0, "01"), entry(1, "03"), entry(2, "04")}, []int{1})
	require.NoError(t, err)
	assert.NotEqual(t, first, second)
	pending, err := h.Pending(ctx, second)
	require.NoError(t, err)
	assert.Equal(t, []int{1, 2}, pending, "the changed one and the new one")
	p, err := h.Picture(ctx, second, 0)
	require.NoError(t, err)
	assert.Equal(t, hash(1), p.SHA256)
	assert.Equal(t, []string{"S07 / 02: does_not_conform 20, scan 1"}, missed(t, h, second))
}
