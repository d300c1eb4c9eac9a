package history

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/likeness"
	"crimprule/internal/site"
	"crimprule/vision/record"
)

// Pictures whose pixels are equal are one, as those whose bytes are; across scans too. A picture that came to nothing is not
// compared, and nothing is compared twice.
func TestPixelsTellCopies(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	scan := func(source string, content int, file string, l site.Label, pixels string) int64 {
		id, _, err := h.Begin(ctx, Scan{Source: source, Program: "v5"}, []Entry{{File: file, Label: l, Origin: site.FromManifest, Request: "{}"}})
		require.NoError(t, err)
		rec := judged(content, record.Conforms)
		rec.Verdict = nil
		require.NoError(t, h.Settle(ctx, id, Outcome{SHA256: hash(content), Key: Key{hash(content), "v5", "{}"}, Record: rec,
			Look: &likeness.Look{Pixels: pixels, Tiny: make([]byte, 576), Small: []byte("none")}}))
		require.NoError(t, h.FindCopies(ctx, id))
		require.NoError(t, h.Finish(ctx, id))
		return id
	}
	kim := site.Label{Trainee: "Kim", Crimp: "1", Date: "2026-03-01"}
	max := site.Label{Trainee: "Max", Crimp: "1", Date: "2026-03-20"}
	scan("/march", 1, "Kim/1.jpg", kim, "the same")
	id := scan("/april", 2, "Max/1.jpg", max, "the same")
	copies, err := h.Copies(ctx, id)
	require.NoError(t, err)
	require.Len(t, copies, 1)
	var c site.Crimp
	c.DoubtCopies(copies[0].Own, copies[0].Others)
	assert.Equal(t, []string{`the same picture ("Max/1.jpg") stands for "Max / 1" of 2026-03-20 and "Kim / 1" of 2026-03-01 in scan 1 on 2026-11-01: ` +
		`a copy proves one crimp only, photograph the others; scan 1 had it first, for "Kim / 1" of 2026-03-01`}, c.Doubts)
	for n := range 3 { // the same site again, from another place, and with the manifest put right
		again := scan(fmt.Sprintf("/copy %d", n), 10+n, "1.jpg", site.Label{String: "S07", Crimp: "4"}, "others")
		copies, err = h.Copies(ctx, again)
		require.NoError(t, err)
		assert.Empty(t, copies)
	}
	right := scan("/copy 2", 12, "1.jpg", site.Label{String: "S07", Crimp: "5"}, "others")
	copies, err = h.Copies(ctx, right)
	require.NoError(t, err)
	require.Len(t, copies, 1, "the first two lay elsewhere")
	assert.Len(t, copies[0].Others, 2)
}

// A thousand pictures of one stand, the worst case, are compared with one another.
func BenchmarkFindCopies(b *testing.B) {
	ctx, now := context.Background(), day(1)
	h := at(b, &now)
	const n = 1000
	var entries []Entry
	for i := range n {
		entries = append(entries, Entry{Position: i, File: fmt.Sprintf("%05d.jpg", i), Label: site.Label{String: "S", Crimp: fmt.Sprint(i)}, Origin: site.FromManifest, Request: "{}"})
	}
	id, _, err := h.Begin(ctx, Scan{Source: "/site", Program: "v5"}, entries)
	require.NoError(b, err)
	random := func(i, k int) float64 { return float64((i*2654435761+k*40503)%10007) / 10007 }
	for i := range n {
		rec := record.New(record.Seam)
		rec.Set(record.SleeveLength, 6.6+0.1*random(i, 1), 0.1)
		rec.Set(record.SleeveWidth, 4+0.2*random(i, 2), 0.2)
		rec.Set(record.InsulationGapMean, 0.2+0.6*random(i, 3), 0.1)
		rec.Set(record.BrushMean, 0.4+0.6*random(i, 4), 0.12)
		rec.Set(record.BrushMax, 0.5+0.6*random(i, 5), 0.16)
		rec.Set(record.Bend, 3*random(i, 6), 0.7)
		rec.Set(record.Symmetry, 0.8+0.2*random(i, 7), 0.1)
		tiny := make([]byte, 576)
		for j := range tiny {
			tiny[j] = byte(128 + 60*random(i, 10+j/48) + 40*random(7, j)) // another ground and light, and a card
		}
		grey := image.NewGray(image.Rect(0, 0, 320, 240))
		for j := range grey.Pix {
			grey.Pix[j] = byte(128 + 60*random(i, 10+j/6400) + 40*random(7, j))
		}
		var small bytes.Buffer
		require.NoError(b, jpeg.Encode(&small, grey, &jpeg.Options{Quality: 50}))
		require.NoError(b, h.Settle(ctx, id, Outcome{Position: i, SHA256: hash(i), Key: Key{hash(i), "v5", "{}"}, Record: &rec,
			Look: &likeness.Look{Pixels: hash(i), Tiny: tiny, Small: small.Bytes()}}))
	}
	for b.Loop() {
		_, err := h.write.Exec(`DELETE FROM alike`)
		require.NoError(b, err)
		require.NoError(b, h.FindCopies(ctx, id))
		_, err = h.Copies(ctx, id)
		require.NoError(b, err)
	}
}
