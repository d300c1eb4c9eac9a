package part

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// madeOverview is an overview of 2 px/mm made by hand: each letter is a pixel's class.
func madeOverview(rows ...string) *overview {
	o := overview{ppm: 2, masked: make([]bool, len(rows)*len(rows[0])), outside: make([]bool, len(rows)*len(rows[0]))}
	for c := range o.shares {
		o.shares[c] = Plane{W: len(rows[0]), H: len(rows), Pix: make([]float32, len(o.masked))}
	}
	letters := map[rune]Class{'.': Ground, 'i': Insulation, 'c': Conductor, 's': Sleeve, 'b': Body}
	for y, row := range rows {
		for x, letter := range row {
			o.shares[letters[letter]].Pix[y*len(row)+x] = 1
		}
	}
	return &o
}

// Two crimps whose wires run together, since the ground between them is taken for insulation, are two parts; one crimp
// is one, also where a spot of its sleeve is not seen as such.
func TestPartsThatRunTogether(t *testing.T) {
	two := madeOverview(
		"iiiiiiiccssssssssbbbb......",
		"iiiiiiiccssssssssbbbb......",
		"iiiiiiiccssssssssbbbb......",
		"iiiii......................",
		"iiiii......................",
		"iiiii......................",
		"iiiiiiiiiiccssssssssbbbb...",
		"iiiiiiiiiiccssssssssbbbb...",
		"iiiiiiiiiiccssssssssbbbb...")
	blobs := two.blobs()
	require.Len(t, blobs, 2)
	for _, b := range blobs {
		assert.InDelta(t, 6, b.area[Sleeve], 1e-9, "24 pixels of a quarter of a square millimetre")
		assert.InDelta(t, 3, b.area[Body], 0.6, "so near to each other a corner may go to the wrong one")
		assert.InDelta(t, 0, b.angle, 0.5)
	}

	one := madeOverview(
		"iiiiiiiccssscssssssbbbb",
		"iiiiiiiccssscssssssbbbb",
		"iiiiiiiccssscssssssbbbb",
		"iiiiiiiccssscssssssbbbb")
	assert.Len(t, one.blobs(), 1)

	wires := madeOverview(
		"iiiiiiiccccccccc",
		"iiiiiiiccccccccc",
		"iiiii...........",
		"iiiii...........",
		"iiiii...........",
		"iiiiiiiccccccccc",
		"iiiiiiiccccccccc")
	assert.Len(t, wires.blobs(), 2)
}
