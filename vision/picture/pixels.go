package picture

import (
	"bytes"
	"errors"

	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
)

// decodePixels decodes a file that was examined, and gives its upright picture as 8-bit BGR, and the original values
// where they have 16 bits (else an empty Mat).
func decodePixels(data []byte, h header) (mat, deep gocv.Mat, err error) {
	m, err := decodeAsStored(data, h)
	if err != nil {
		return gocv.Mat{}, gocv.Mat{}, err
	}
	if err := settle(&m, h); err != nil {
		return gocv.Mat{}, gocv.Mat{}, errors.Join(err, m.Close())
	}
	if h.depth == 8 {
		return m, gocv.NewMat(), nil
	}
	shallow := gocv.NewMat()
	err = cvx.ConvertTo(m, &shallow, gocv.MatTypeCV8U, 1.0/257, 0)
	if err == nil && shallow.Channels() == 1 {
		err = replace(&shallow, func(dst *gocv.Mat) error { return cvx.CvtColor(shallow, dst, gocv.ColorGrayToBGR) })
	}
	if err != nil {
		return gocv.Mat{}, gocv.Mat{}, errors.Join(err, shallow.Close(), m.Close())
	}
	return shallow, m, nil
}

// decodeAsStored decodes without turning the picture. OpenCV leaves the orientation alone when told so, except in a
// TIFF, whose decoder obeys the tag whatever it is told: there it gets a copy of the file that says 'upright'.
func decodeAsStored(data []byte, h header) (gocv.Mat, error) {
	flags := gocv.IMReadColor | gocv.IMReadIgnoreOrientation
	if h.depth == 16 || h.alpha {
		flags = gocv.IMReadUnchanged // which implies that nothing is turned
	}
	if h.format == "tiff" && h.orientation != 1 {
		data = withoutOrientation(data)
	}
	m, err := cvx.Decode(data, flags)
	if err != nil {
		return gocv.Mat{}, damaged(h.format, "its data cannot be decoded")
	}
	want := gocv.MatTypeCV8U
	if h.depth == 16 {
		want = gocv.MatTypeCV16U
	}
	if m.Cols() != h.width || m.Rows() != h.height || m.Type()&7 != want {
		_ = m.Close()
		return gocv.Mat{}, damaged(h.format, "it decodes to another size or depth than its header tells")
	}
	return m, nil
}

// withoutOrientation gives a copy of a TIFF whose entry for the orientation says 1.
func withoutOrientation(data []byte) []byte {
	data = bytes.Clone(data)
	d, _ := firstDirectory(data)
	for at := 0; at < len(d.entries); at += 12 {
		if entry := d.entries[at : at+12]; d.order.Uint16(entry) == tagOrientation {
			d.order.PutUint16(entry[2:], 3) // one SHORT
			d.order.PutUint32(entry[4:], 1)
			d.order.PutUint32(entry[8:], 0)
			d.order.PutUint16(entry[8:], 1)
		}
	}
	return data
}

// settle gives a decoded picture its final channels and turns it upright.
func settle(m *gocv.Mat, h header) error {
	switch channels := m.Channels(); {
	case channels == 4:
		err := replace(m, func(dst *gocv.Mat) error { return cvx.OverWhite(*m, dst, h.premultiplied) })
		if err != nil {
			return err
		}
	case channels == 1 && h.depth == 8:
		err := replace(m, func(dst *gocv.Mat) error { return cvx.CvtColor(*m, dst, gocv.ColorGrayToBGR) })
		if err != nil {
			return err
		}
	case channels != 1 && channels != 3:
		return unsupported(h.format, "of an uncommon number of channels")
	}
	return upright(m, h.orientation)
}

// upright turns a picture by EXIF's orientation, which says where the stored row 0 and column 0 lie in the scene
// (CIPA DC-008 and TIFF 6.0 alike): 1 top and left, 2 top and right, 3 bottom and right, 4 bottom and left, 5 left and
// top, 6 right and top, 7 right and bottom, 8 left and bottom. 5 to 8 swap width and height.
func upright(m *gocv.Mat, orientation int) error {
	if orientation >= 5 {
		if err := replace(m, func(dst *gocv.Mat) error { return cvx.Transpose(*m, dst) }); err != nil {
			return err
		}
	}
	const leftRight, topBottom, both = 1, 0, -1
	switch orientation {
	case 2, 6:
		return cvx.Flip(*m, m, leftRight)
	case 3, 7:
		return cvx.Flip(*m, m, both)
	case 4, 8:
		return cvx.Flip(*m, m, topBottom)
	}
	return nil
}

// replace puts what a step makes of a Mat in the Mat's place, and frees the old one.
func replace(m *gocv.Mat, step func(dst *gocv.Mat) error) error {
	dst := gocv.NewMat()
	if err := step(&dst); err != nil {
		return errors.Join(err, dst.Close())
	}
	err := m.Close()
	*m = dst
	return err
}
