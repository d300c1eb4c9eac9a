package evidence

import (
	"context"
	"fmt"
	"image"
	"path/filepath"

	"github.com/disintegration/imaging"

	"crimprule/internal/overlay"
)

// contactSheet is one of the sheets of small pictures: its path, and the crimps that it shows.
type contactSheet struct {
	Path        string
	First, Last int
}

// contactSheets says which sheets there are, for the list to lead to.
func (b *book) contactSheets() []contactSheet {
	var sheets []contactSheet
	for first := 0; first < len(b.rows); first += overlay.ContactTiles {
		last := min(first+overlay.ContactTiles, len(b.rows))
		sheets = append(sheets, contactSheet{fmt.Sprintf("contact/%03d.jpg", len(sheets)+1), b.rows[first].Number, b.rows[last-1].Number})
	}
	return sheets
}

// contacts draws all crimps small, sheet after sheet, in the order of the scan, to be printed or looked through. The
// pictures are thumbnails that this program made itself; where one is not there its place stays empty.
func (f folder) contacts(ctx context.Context, b *book) error {
	var sheets overlay.ContactSheets
	for _, sheet := range b.contactSheets() {
		if err := ctx.Err(); err != nil {
			return err
		}
		title := fmt.Sprintf("%s: %d to %d of %s, %s", b.info.Title, sheet.First, sheet.Last, b.total(), moment(b.info.When))
		rows := b.rows[sheet.First-1 : sheet.Last]
		sheets.Begin(title, len(rows))
		for _, r := range rows {
			sheets.Add(overlay.Tile{Number: r.Number, Name: r.Name, Result: r.Result, Picture: f.thumb(r.Thumb)})
		}
		err := f.file(sheet.Path, func(out *output) error {
			return imaging.Encode(out, sheets.Image(), imaging.JPEG, imaging.JPEGQuality(88))
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// thumb reads a thumbnail; nil where there is none.
func (f folder) thumb(name string) image.Image {
	if name == "" {
		return nil
	}
	picture, err := imaging.Open(filepath.Join(string(f), filepath.FromSlash(name)))
	if err != nil {
		return nil
	}
	return picture
}
