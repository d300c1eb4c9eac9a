package picture

import (
	"bytes"
	"encoding/binary"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The EXIF tags by number (CIPA DC-008, from memory).
const (
	exifMake, exifModel, exifIFD     = 0x010f, 0x0110, 0x8769
	exifOriginal, exifDigitized      = 0x9003, 0x9004
	exifZone, exifZoneDigitized      = 0x9011, 0x9012
	exifWidth, exifHeight, exifFocal = 0xa002, 0xa003, 0xa405
)

func TestMetadataArriveFromEveryFormat(t *testing.T) {
	img := stored(scene(), 6) // 24 x 40 as stored, 40 x 24 upright
	tags := []field{
		{exifMake, "Trial"}, {exifModel, "Trial T-1"}, {tagOrientation, []uint16{6}}, {0x132, "2026:12:31 00:00:00"},
		{exifIFD, []field{{exifOriginal, "2026:05:04 10:11:12"}, {exifZone, "+02:00"}, {exifWidth, []uint32{24}},
			{exifHeight, []uint32{40}}, {exifFocal, []uint16{26}}}},
	}
	exif := buildTIFF(binary.BigEndian, tags...)
	for name, data := range map[string][]byte{
		"a.jpg":  jpegWithEXIF(encodeJPEG(t, img), exif),
		"a.png":  pngWithChunk(encodePNG(t, img), "eXIf", exif),
		"a.webp": webpWithEXIF(encodeWebP(t, img), exif, 24, 40),
		"a.tif":  tiffPicture(binary.LittleEndian, 24, 40, 3, 8, rgb(img, 8), tags...),
	} {
		p, err := Decode(name, data)
		require.NoError(t, err, name)
		assertScene(t, p.Mat, 10)
		assert.Equal(t, "2026-05-04T10:11:12+02:00", p.Taken, name)
		assert.Equal(t, "Trial T-1", p.Camera, name)
		assert.InDelta(t, 26/43.2666*math.Sqrt(40*40+24*24), p.FocalPX, 1e-3, name)
		p.Close()
	}
}

func TestTaken(t *testing.T) {
	for want, tags := range map[string][]field{
		"2026-05-04T10:11:12":       {{exifOriginal, "2026:05:04 10:11:12"}},
		"2026-05-04T10:11:13-09:30": {{exifOriginal, "2026:05:04 10:11:13"}, {exifZone, "-09:30"}},
		"2026-05-04T10:11:14Z":      {{exifOriginal, "2026:05:04 10:11:14"}, {exifZone, "Z"}},
		"2026-05-04T10:11:15":       {{exifOriginal, "2026:05:04 10:11:15"}, {exifZone, "local"}},
		"2026-05-04T10:11:16+01:00": {{exifDigitized, "2026:05:04 10:11:16"}, {exifZoneDigitized, "+01:00"}},
		"2026-05-04T10:11:17": {{exifOriginal, "0000:00:00 00:00:00"}, {exifDigitized, "2026:05:04 10:11:17"},
			{exifZone, "+01:00"}},
		"": {{exifOriginal, "    :  :     :  :  "}, {exifDigitized, []uint16{2026}}},
	} {
		assert.Equal(t, want, readMetadata(buildTIFF(binary.LittleEndian, field{exifIFD, tags})).taken())
	}
}

func TestCameraIsPlainWords(t *testing.T) {
	for _, c := range []struct{ make, model, want string }{
		{"Trial", "T-1", "Trial T-1"},
		{"TRIAL", "Trial T-1", "Trial T-1"},
		{"", "T-1", "T-1"},
		{"Trial", "", "Trial"},
		{"", "", ""},
		{"  Trial\t\n", "T\x1b[31m\x00 \x07\xff1 ", "Trial T[31m 1"},
		{"", strings.Repeat("ü", 500), strings.Repeat("ü", 60)},
	} {
		assert.Equal(t, c.want, metadata{"Make": c.make, "Model": c.model}.camera())
		if !strings.Contains(c.model, "\x00") {
			exif := buildTIFF(binary.LittleEndian, field{exifMake, c.make}, field{exifModel, c.model})
			if len(c.model) < 500 {
				assert.Equal(t, c.want, readMetadata(exif).camera())
			}
		}
	}
}

// The figure of f35 is published with phones: a main camera of 26 mm sees 79.5 degrees over the diagonal, as
// 2 atan(43.27 / (2 * 26)) has it (plain geometry).
func TestFocalLength(t *testing.T) {
	focal := func(f35 uint16, size ...uint32) float64 {
		tags := []field{}
		if len(size) == 2 {
			tags = append(tags, field{exifWidth, size[:1]}, field{exifHeight, size[1:]})
		}
		tags = append(tags, field{exifFocal, []uint16{f35}})
		return readMetadata(buildTIFF(binary.BigEndian, field{exifIFD, tags})).focalPX(4000, 3000)
	}
	angle := 2 * math.Atan(2500/focal(26)) * 180 / math.Pi
	assert.InDelta(t, 79.5, angle, 0.05)
	assert.InDelta(t, focal(26), focal(26, 4000, 3000), 0)
	assert.InDelta(t, focal(26), focal(26, 3000, 4000), 0, "a picture that was turned")
	assert.InDelta(t, focal(26), focal(26, 8000, 6000), 0, "a picture that was made smaller")
	assert.Zero(t, focal(26, 4000, 4000), "a picture that was cropped")
	assert.Zero(t, focal(0), "0 means unknown")
	assert.Zero(t, focal(65535))
	assert.Zero(t, metadata{}.focalPX(4000, 3000))
}

// Whatever is wrong with the metadata, the picture is measured, and upright.
func TestBrokenMetadataOnlyLeaveValuesOut(t *testing.T) {
	img := stored(scene(), 6)
	good := buildTIFF(binary.BigEndian, field{tagOrientation, []uint16{6}}, field{exifModel, "trial camera"},
		field{exifIFD, []field{{exifOriginal, "2026:05:04 10:11:12"}}})
	unknownType := changed(buildTIFF(binary.BigEndian, field{1, []uint16{1}}, field{tagOrientation, []uint16{6}}), 13, 99)
	for name, exif := range map[string][]byte{"cut": good[:len(good)-25], "unknown type": unknownType} {
		p, err := Decode("a.jpg", jpegWithEXIF(encodeJPEG(t, img), exif))
		require.NoError(t, err, name)
		assertScene(t, p.Mat, 10)
		assert.Empty(t, p.Taken)
		p.Close()
	}
	for n := range len(good) {
		readMetadata(good[:n])
		orientationOf(good[:n])
	}
	for _, o := range []uint16{0, 9, 65535} {
		exif := buildTIFF(binary.BigEndian, field{tagOrientation, []uint16{o}})
		assert.Equal(t, 1, orientationOf(exif), "no such orientation")
	}
	assert.Equal(t, 1, orientationOf([]byte("rubbish")))
}

// Directories that lead to a large one a thousandfold would keep the metadata library busy for minutes.
func TestMetadataAreReadInBoundedTime(t *testing.T) {
	le := binary.LittleEndian
	exif := buildTIFF(le, field{0x014a, make([]uint32, 240)})
	many := le.AppendUint16(nil, 65535)
	many = append(many, bytes.Repeat([]byte{0x0f, 0x01, 4, 0, 0, 0, 2, 0, 0, 0, 0, 0}, 65535)...) // count above the bound
	at := uint32(len(exif))
	for i := range 240 {
		le.PutUint32(exif[len(exif)-4*240+4*i:], at)
	}
	start := time.Now()
	readMetadata(append(exif, many...))
	assert.Less(t, time.Since(start), 5*time.Second)
}
