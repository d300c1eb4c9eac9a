package history

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// What a scan's page doubts, the history doubts: one picture for two crimps, and a tag against the manifest. A copy within
// one crimp proves what it shows; one that another scan has for another crimp does not.
func TestDoubtsCount(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	crimp := func(name string) site.Label { return site.Label{String: "S07", Crimp: name} }
	scanShots(t, h, "/first",
		shot{"1.jpg", crimp("1"), site.FromManifest, "", 1, record.Conforms, 90},
		shot{"2.jpg", crimp("2"), site.FromManifest, "", 1, record.Conforms, 90},
		shot{"3.jpg", crimp("3"), site.FromManifest, "7", 3, record.Conforms, 90},
		shot{"4.jpg", crimp("4"), site.FromManifest, "4", 4, record.Conforms, 90},
		shot{"4_again.jpg", crimp("4"), site.FromManifest, "S07 / 4", 4, record.Conforms, 90},
		shot{"5.jpg", crimp("5"), site.FromManifest, "", 5, "", 0},
		shot{"6.jpg", crimp("6"), site.FromManifest, "", 6, record.DoesNotConform, 20},
		shot{"copy of 6.jpg", site.Label{}, site.Alone, "", 6, record.DoesNotConform, 20},
		shot{"8.jpg", crimp("8"), site.FromManifest, "", 8, record.Conforms, 90})
	scanShots(t, h, "/second", shot{"9.jpg", crimp("9"), site.FromManifest, "", 8, record.Conforms, 90})
	doubts, results := map[string][]string{}, map[string]record.Result{}
	require.NoError(t, h.List(ctx, Filter{}, func(s Standing) error {
		doubts[s.Crimp.Name()], results[s.Crimp.Name()] = s.Crimp.Doubts, s.Crimp.Result
		return nil
	}))
	const copied = `: a copy proves one crimp only, photograph the others`
	const first = copied + `; scan 1 had it first, for "S07 / 8"`
	assert.Equal(t, map[string][]string{
		"S07 / 1": {`the same picture ("1.jpg") stands for "S07 / 1" and "S07 / 2"` + copied}, "S07 / 2": {`the same picture ("2.jpg") stands for "S07 / 2" and "S07 / 1"` + copied},
		"S07 / 3": {`the tag in "3.jpg" says "7", the manifest "S07 / 3": find out which of the two it is`}, "S07 / 4": nil, "S07 / 5": nil,
		"S07 / 6":       {`the same picture ("6.jpg") stands for "S07 / 6" and "copy of 6.jpg"` + copied},
		"copy of 6.jpg": {`the same picture ("copy of 6.jpg") stands for "copy of 6.jpg" and "S07 / 6"` + copied},
		"S07 / 8":       {`the same picture ("8.jpg") stands for "S07 / 8" and "S07 / 9" in scan 2 on 2026-11-01` + first},
		"S07 / 9":       {`the same picture ("9.jpg") stands for "S07 / 9" and "S07 / 8" in scan 1 on 2026-11-01` + first},
	}, doubts)
	assert.Equal(t, map[string]record.Result{"S07 / 1": record.NotProven, "S07 / 2": record.NotProven, "S07 / 3": record.NotProven, "S07 / 4": record.Conforms,
		"S07 / 5": record.NotMeasured, "S07 / 6": record.DoesNotConform, "copy of 6.jpg": record.DoesNotConform, "S07 / 8": record.NotProven, "S07 / 9": record.NotProven}, results)
	found, err := h.Named(ctx, "1", "S07", "")
	require.NoError(t, err)
	require.Len(t, found, 1)
	assert.Equal(t, record.NotProven, found[0].Crimp.Result)
	assert.Equal(t, doubts["S07 / 1"], found[0].Crimp.Doubts)
}
