package scan

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"strings"
)

// lookedFor says in messages what Find takes for a picture.
const lookedFor = "pictures that end in .jpg, .jpeg, .png, .tif, .tiff or .webp"

// readable are the endings of pictures that are measured.
var readable = map[string]bool{
	".jpg": true, ".jpeg": true, ".jpe": true, ".jfif": true, ".png": true, ".tif": true, ".tiff": true, ".webp": true,
}

const (
	asJPEG = "export it as JPEG, and scan again"
	phone  = "export it as JPEG, or set the phone's camera to take JPEG, and scan again"
	raw    = "a camera's raw file"
)

// others are the endings of pictures that are not read: what they are and what to do.
var others = map[string]struct{ what, next string }{
	".heic": {"a HEIC picture", phone}, ".heif": {"a HEIF picture", phone},
	".avif": {"an AVIF picture", asJPEG}, ".gif": {"a GIF picture", asJPEG}, ".bmp": {"a BMP picture", "export it as PNG, and scan again"},
	".jp2": {"a JPEG 2000 picture", asJPEG}, ".j2k": {"a JPEG 2000 picture", asJPEG}, ".jxl": {"a JPEG XL picture", asJPEG},
	".psd": {"a layered picture of a drawing program", "export it as PNG, and scan again"},
	".dng": {raw, asJPEG}, ".cr2": {raw, asJPEG}, ".cr3": {raw, asJPEG}, ".crw": {raw, asJPEG}, ".nef": {raw, asJPEG}, ".nrw": {raw, asJPEG},
	".arw": {raw, asJPEG}, ".sr2": {raw, asJPEG}, ".srw": {raw, asJPEG}, ".orf": {raw, asJPEG}, ".rw2": {raw, asJPEG}, ".raf": {raw, asJPEG},
	".pef": {raw, asJPEG}, ".x3f": {raw, asJPEG}, ".3fr": {raw, asJPEG}, ".iiq": {raw, asJPEG},
}

func ending(name string) string { return strings.ToLower(path.Ext(name)) }

// stem is a name without its ending, and without what programs hang on to the ending of a picture. A number is no ending.
func stem(name string) string {
	if !looksLike(name) {
		if at := hungOn.FindStringIndex(name); at != nil && looksLike(name[:at[0]]) {
			name = name[:at[0]]
		}
	}
	end := path.Ext(name)
	if looksLike(name) || len(end) > 1 && (end[1] < '0' || end[1] > '9') {
		name = strings.TrimSuffix(name, end)
	}
	return name
}

// hungOn is what follows an ending: _large, ~, .1, a dot.
var hungOn = regexp.MustCompile(`([_~. -][^/.]*|\.)$`)

// isPicture tells whether a name is one of a picture that is measured; looksLike also of one that is not read.
func isPicture(name string) bool { return readable[ending(name)] }

func looksLike(name string) bool {
	_, other := others[ending(name)]
	return other || isPicture(name)
}

// hidden tells whether a file or a folder on the way to it is hidden, the way Unix hides.
func hidden(name string) bool { return strings.HasPrefix(name, ".") || strings.Contains(name, "/.") }

// problem words a refusal: the name in quotes, what is wrong, and what to do.
func problem(name, what, next string) string { return fmt.Sprintf("%q %s: %s", name, what, next) }

// unread is the problem of a picture in a format that is not read; empty for one that is. by is the ending that its first
// bytes tell, where its name tells none.
func unread(name, by string) string {
	if by == "" {
		by = ending(name)
	}
	if o, is := others[by]; is {
		return problem(name, "is "+o.what+", which is not read", o.next)
	}
	return ""
}

// irregular is the problem of what has a picture's name but is no file; empty for a file.
func irregular(name string, mode fs.FileMode) string {
	const instead = "save the picture to a file, and scan again"
	switch {
	case mode.IsRegular():
		return ""
	case mode.IsDir():
		return problem(name, "is a folder, not a picture", "what lies in it was looked at all the same; give it another name")
	case mode&fs.ModeNamedPipe != 0:
		return problem(name, "is a pipe (FIFO), not a picture", instead)
	case mode&fs.ModeSocket != 0:
		return problem(name, "is a socket, not a picture", instead)
	case mode&fs.ModeDevice != 0:
		return problem(name, "is a device, not a picture", instead)
	}
	return problem(name, "is not a regular file", instead)
}

const copyAgain = "copy it again from the camera or phone, or take the picture again"

func empty(name string) string { return problem(name, "is empty (0 bytes)", copyAgain) }

// unreadable words an error of the file system.
func unreadable(name string, err error) string {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return problem(name, "does not exist", "check the name and the folder")
	case errors.Is(err, fs.ErrPermission):
		return problem(name, "may not be read", "get the permission to read it, or copy it to a folder of your own")
	}
	var told *fs.PathError
	if errors.As(err, &told) {
		err = told.Err
	}
	return problem(name, "cannot be read ("+err.Error()+")", "check the disk or card it lies on")
}
