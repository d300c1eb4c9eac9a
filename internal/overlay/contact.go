package overlay

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"github.com/disintegration/imaging"
	"golang.org/x/image/draw"

	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// Tile is one crimp on a contact sheet. Picture is nil where there is none; Result is empty where nothing was judged.
type Tile struct {
	Number  int
	Name    string
	Result  record.Result
	Picture image.Image
}

// A contact sheet's measures in pixels; it is printed upright on A4 at some 180 px an inch.
const (
	contactColumns = 5
	tileWidth      = 280
	tileHeight     = 264
	tilePicture    = 200 // of the tile's height
	tileGap        = 12
	contactHeader  = 56
)

var emptyTile = color.RGBA{0xec, 0xee, 0xf0, 0xff} // behind a picture that does not fill its tile

// ContactTiles is how many crimps a contact sheet has room for.
const ContactTiles = contactColumns * 7

// ContactSheet draws crimps side by side, to be printed and looked through: picture, number, name and result, which has a
// shape of its own besides its colour and its word. What is more than ContactTiles is left out.
func ContactSheet(title string, tiles []Tile) *image.RGBA {
	tiles = tiles[:min(len(tiles), ContactTiles)]
	rows := (len(tiles) + contactColumns - 1) / contactColumns
	size := image.Rect(0, 0, contactColumns*(tileWidth+tileGap)+tileGap, contactHeader+rows*(tileHeight+tileGap))
	d := &sheet{unit: 1, drawing: drawing{canvas: canvas{image.NewRGBA(size)}, faces: newFaces(sheetSmall)}}
	draw.Draw(d.img, size, image.NewUniform(page), image.Point{}, draw.Src)
	d.text(d.bold, tileGap, contactHeader-24, print1, fitting(d.bold, wording.Clean(title), size.Dx()-2*tileGap))
	for i, t := range tiles {
		at := image.Pt(tileGap+i%contactColumns*(tileWidth+tileGap), contactHeader+i/contactColumns*(tileHeight+tileGap))
		d.tile(t, at)
	}
	return d.img
}

func (d *sheet) tile(t Tile, at image.Point) {
	frame := image.Rectangle{at, at.Add(image.Pt(tileWidth, tilePicture))}
	draw.Draw(d.img, frame, image.NewUniform(emptyTile), image.Point{}, draw.Src)
	if t.Picture != nil {
		small := imaging.Fit(t.Picture, tileWidth, tilePicture, imaging.Linear)
		corner := at.Add(image.Pt((tileWidth-small.Bounds().Dx())/2, (tilePicture-small.Bounds().Dy())/2))
		draw.Draw(d.img, image.Rectangle{corner, corner.Add(small.Bounds().Size())}, small, small.Bounds().Min, draw.Over)
	}
	name := fmt.Sprintf("%d  %s", t.Number, wording.Clean(t.Name))
	d.text(d.regular, at.X, at.Y+tilePicture+24, print1, fitting(d.regular, name, tileWidth))
	text := "not judged"
	if t.Result != "" {
		text = wording.Result(t.Result)
	}
	d.drawResult(t.Result, text, image.Pt(at.X, at.Y+tilePicture+24+int(math.Ceil(1.5*sheetSmall))), tileWidth)
}
