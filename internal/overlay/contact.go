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
	contactText    = 19
)

var emptyTile = color.RGBA{0xec, 0xee, 0xf0, 0xff} // behind a picture that does not fill its tile

// ContactTiles is how many crimps a contact sheet has room for.
const ContactTiles = contactColumns * 7

// ContactSheets draws crimps side by side, sheet after sheet, to be printed and looked through: picture, number, name and
// result, which has a shape of its own besides its colour and its word. All sheets share one canvas: a sheet is gone when
// the next one begins. The zero value is ready.
type ContactSheets struct {
	sheet *sheet
	room  *image.RGBA // as large as a full sheet
	tiles int         // drawn on this sheet
}

// Begin begins a sheet for n tiles, of which it has room for ContactTiles at most.
func (c *ContactSheets) Begin(title string, n int) {
	size := func(rows int) image.Rectangle {
		return image.Rect(0, 0, contactColumns*(tileWidth+tileGap)+tileGap, contactHeader+rows*(tileHeight+tileGap))
	}
	if c.sheet == nil {
		c.room = image.NewRGBA(size(ContactTiles / contactColumns))
		c.sheet = &sheet{drawing: drawing{unit: 1, faces: newFaces(contactText)}}
	}
	c.tiles = 0
	d := c.sheet
	d.img = c.room.SubImage(size((min(n, ContactTiles) + contactColumns - 1) / contactColumns)).(*image.RGBA)
	draw.Draw(d.img, d.img.Rect, image.NewUniform(page), image.Point{}, draw.Src)
	d.text(d.bold, tileGap, contactHeader-24, print1, fitting(d.bold, wording.Clean(title), d.img.Rect.Dx()-2*tileGap))
}

// Add draws the next tile of the sheet that was begun; what it has no room for is left out.
func (c *ContactSheets) Add(t Tile) {
	if c.tiles == ContactTiles {
		return
	}
	c.sheet.tile(t, image.Pt(tileGap+c.tiles%contactColumns*(tileWidth+tileGap), contactHeader+c.tiles/contactColumns*(tileHeight+tileGap)))
	c.tiles++
}

// Image is the sheet, until the next one begins.
func (c *ContactSheets) Image() *image.RGBA { return c.sheet.img }

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
	d.drawResult(t.Result, text, image.Pt(at.X, at.Y+tilePicture+24+int(math.Ceil(1.5*contactText))), tileWidth)
}
