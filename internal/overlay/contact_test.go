package overlay

import (
	"image"
	"image/color"
	"testing"

	"github.com/stretchr/testify/assert"

	"crimprule/vision/record"
)

func TestAContactSheetHasRoomForEveryCrimp(t *testing.T) {
	picture := image.NewRGBA(image.Rect(0, 0, 640, 240))
	for i := range picture.Pix {
		picture.Pix[i] = 0xff
	}
	red := color.RGBA{0xff, 0, 0, 0xff}
	for y := range 240 {
		for x := range 640 {
			picture.SetRGBA(x, y, red)
		}
	}
	var tiles []Tile
	for i := range ContactTiles + 3 {
		tiles = append(tiles, Tile{Number: i + 1, Name: "north-03 / <b>\x1b[2J", Result: record.DoesNotConform, Picture: picture})
	}
	tiles[1].Picture, tiles[1].Result = nil, ""
	var sheets ContactSheets
	draw := func(title string, tiles []Tile) *image.RGBA {
		sheets.Begin(title, len(tiles))
		for _, tile := range tiles {
			sheets.Add(tile)
		}
		return sheets.Image()
	}
	sheet := draw("a title that is far too long for the sheet: "+string(make([]byte, 400)), tiles)
	middle := func(i int) image.Point {
		return image.Pt(tileGap+i%contactColumns*(tileWidth+tileGap)+tileWidth/2, contactHeader+i/contactColumns*(tileHeight+tileGap)+tilePicture/2)
	}
	assert.Equal(t, red, sheet.RGBAAt(middle(0).X, middle(0).Y))
	assert.Equal(t, emptyTile, sheet.RGBAAt(middle(1).X, middle(1).Y), "no picture, and the place is kept")
	assert.Equal(t, red, sheet.RGBAAt(middle(ContactTiles-1).X, middle(ContactTiles-1).Y))
	assert.Equal(t, contactColumns*(tileWidth+tileGap)+tileGap, sheet.Rect.Dx())
	assert.Equal(t, contactHeader+ContactTiles/contactColumns*(tileHeight+tileGap), sheet.Rect.Dy())
	one := draw("one", tiles[:1])
	assert.Equal(t, contactHeader+tileHeight+tileGap, one.Rect.Dy())
	assert.Equal(t, page, one.RGBAAt(middle(1).X, middle(1).Y), "nothing of the sheet before shows")
}
