package scan

import (
	"bytes"
	"fmt"
	"io"
	"path"
	"regexp"
	"slices"
	"strings"
)

// firstBytes is how many bytes of a file tell what it is, where its name does not.
const firstBytes = 32

// signatures are how pictures begin, with the ending that their names would have.
var signatures = []struct{ start, ending string }{
	{"\xff\xd8\xff", ".jpg"}, {"\x89PNG\r\n\x1a\n", ".png"},
	{"II*\x00", ".tif"}, {"MM\x00*", ".tif"}, {"II+\x00", ".tif"}, {"MM\x00+", ".tif"},
	{"GIF8", ".gif"}, {"8BPS", ".psd"}, {"\x00\x00\x00\x0cjP  \r\n\x87\n", ".jp2"}, {"\x00\x00\x00\x0cJXL \r\n\x87\n", ".jxl"},
}

// brands are those of pictures among the files that begin with a box 'ftyp' (ISO/IEC 23008-12; from memory).
var brands = map[string]string{
	"heic": ".heic", "heix": ".heic", "heim": ".heic", "heis": ".heic", "mif1": ".heif", "avif": ".avif", "avis": ".avif",
}

// pictureEnding gives the ending that a file's name would have by its first bytes; empty where it is no picture.
func pictureEnding(first []byte) string {
	for _, s := range signatures {
		if bytes.HasPrefix(first, []byte(s.start)) {
			return s.ending
		}
	}
	switch {
	case len(first) < 14:
		return ""
	case string(first[:4]) == "RIFF" && string(first[8:12]) == "WEBP":
		return ".webp"
	case string(first[4:8]) == "ftyp":
		return brands[string(first[8:12])]
	case string(first[:2]) == "BM" && string(first[6:10]) == "\x00\x00\x00\x00":
		return ".bmp"
	}
	return ""
}

// sniff gives the ending of what looks like a picture by its first bytes. What cannot be read is none.
func sniff(open func() (io.ReadCloser, error)) string {
	file, err := open()
	if err != nil {
		return ""
	}
	defer func() { _ = file.Close() }()
	first := make([]byte, firstBytes)
	n, _ := io.ReadFull(file, first)
	return pictureEnding(first[:n])
}

// copying are the endings of files that are still being copied or downloaded.
var copying = []string{".part", ".partial", ".crdownload", ".download", ".opdownload", ".tmp", ".temp", ".filepart"}

// packedUp are the endings of files that may hold pictures but are not looked into.
var packedUp = map[string]string{".zip": "a ZIP", ".7z": "a 7z archive", ".rar": "a RAR archive", ".tar": "a tar archive", ".tgz": "a tar archive", ".gz": "a gzip archive"}

// other says what is wrong with a file that may hold pictures though it is none by its name; empty where there is nothing
// to say. ofPicture is the ending of a picture that it is by its first bytes.
func other(name, ofPicture string) string {
	what, isPacked := packedUp[ending(name)]
	switch {
	case isPacked:
		return problem(name, "is "+what+" within what is scanned and was not looked into, so that pictures in it were not measured", "unpack it there, and move it away")
	case slices.Contains(copying, ending(name)) && (ofPicture != "" || looksLike(strings.TrimSuffix(name, path.Ext(name)))):
		return problem(name, fmt.Sprintf("is a picture that was not copied to its end (%s)", path.Ext(name)), "copy it again, and delete this file")
	}
	return ""
}

// listNames are names of files that may have been meant as the manifest.
var listNames = regexp.MustCompile(`(?i)^manifest\b.*\.(csv|tsv|txt|xlsx?|xlsm|ods|numbers)$`)

// unreadList says of a file that looks like a manifest and is none that it was not read; empty for other files.
func unreadList(name string) string {
	if !listNames.MatchString(path.Base(name)) {
		return ""
	}
	next := "where it is the list of the pictures, name it manifest.csv, or say --manifest"
	if e := ending(name); strings.HasPrefix(e, ".xls") || e == ".ods" || e == ".numbers" {
		next = "where it is the list of the pictures, save it as 'CSV UTF-8' with the name manifest.csv"
	}
	return problem(name, "looks like a manifest but was not read", next)
}
