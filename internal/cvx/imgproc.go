package cvx

// #include "cvx.h"
import "C"

import (
	"fmt"
	"image"
	"image/color"

	"gocv.io/x/gocv"
)

// maxPixels bounds the pictures made here: the system may promise more memory than it has, and then ends the process.
const maxPixels = 400_000_000

// sized refuses a size that no result can have.
func sized(op string, size image.Point) error {
	if size.X <= 0 || size.Y <= 0 || size.X > maxPixels/size.Y {
		return &Error{Op: op, Text: fmt.Sprintf("a picture of %d x %d pixels cannot be made", size.X, size.Y)}
	}
	return nil
}

// scalar brings a colour into OpenCV's order: blue, green, red, alpha.
func scalar(c color.RGBA) C.cvx_scalar {
	return C.cvx_scalar{v: [4]C.double{C.double(c.B), C.double(c.G), C.double(c.R), C.double(c.A)}}
}

// CvtColor converts between colour spaces; dst gets src's size.
func CvtColor(src gocv.Mat, dst *gocv.Mat, code gocv.ColorConversionCode) error {
	return failed("convert colour", C.cvx_cvt_color(ptr(src), into(dst), C.int(code)))
}

// ConvertTo gives dst the depth of mt and the values src*scale + shift, rounded and clipped to what that depth holds.
// The channels stay as they are.
func ConvertTo(src gocv.Mat, dst *gocv.Mat, mt gocv.MatType, scale, shift float64) error {
	return failed("convert depth",
		C.cvx_convert_to(ptr(src), into(dst), C.int(mt), C.double(scale), C.double(shift)))
}

// OverWhite lays an 8 or 16 bit picture with alpha (B, G, R, A) over a white ground: dst has the same depth and three
// channels. Premultiplied says that the colours were multiplied by alpha already.
func OverWhite(src gocv.Mat, dst *gocv.Mat, premultiplied bool) error {
	flag := C.int(0)
	if premultiplied {
		flag = 1
	}
	return failed("lay over white", C.cvx_over_white(ptr(src), into(dst), flag))
}

// Transpose swaps x and y.
func Transpose(src gocv.Mat, dst *gocv.Mat) error {
	return failed("transpose", C.cvx_transpose(ptr(src), into(dst)))
}

// Flip mirrors: code 1 left to right, 0 top to bottom, -1 both. Src and dst may be the same Mat.
func Flip(src gocv.Mat, dst *gocv.Mat, code int) error {
	return failed("flip", C.cvx_flip(ptr(src), into(dst), C.int(code)))
}

// Resize resamples src to size.
func Resize(src gocv.Mat, dst *gocv.Mat, size image.Point, interp gocv.InterpolationFlags) error {
	if err := sized("resize", size); err != nil {
		return err
	}
	return failed("resize", C.cvx_resize(ptr(src), into(dst), C.int(size.X), C.int(size.Y), C.int(interp)))
}

// Remap gives dst the size of the maps: its pixel (x, y) is src at (map1, map2)(x, y). The maps are two of 32-bit
// floats, or one of two channels and an empty one. What lies outside src follows border, a constant one being fill.
func Remap(src gocv.Mat, dst *gocv.Mat, map1, map2 gocv.Mat, interp gocv.InterpolationFlags, border gocv.BorderType,
	fill color.RGBA) error {
	return failed("remap",
		C.cvx_remap(ptr(src), into(dst), ptr(map1), ptr(map2), C.int(interp), C.int(border), scalar(fill)))
}

// WarpAffine resamples src by a 2x3 matrix of float64. The matrix leads from src to dst, unless interp contains
// gocv.WarpInverseMap, which says that it leads from dst to src.
func WarpAffine(src gocv.Mat, dst *gocv.Mat, matrix gocv.Mat, size image.Point, interp gocv.InterpolationFlags,
	border gocv.BorderType, fill color.RGBA) error {
	if err := sized("warp", size); err != nil {
		return err
	}
	return failed("warp", C.cvx_warp_affine(ptr(src), into(dst), ptr(matrix), C.int(size.X), C.int(size.Y),
		C.int(interp), C.int(border), scalar(fill)))
}

// WarpPerspective resamples src by a 3x3 homography of float64; its direction is told as for WarpAffine.
func WarpPerspective(src gocv.Mat, dst *gocv.Mat, matrix gocv.Mat, size image.Point, interp gocv.InterpolationFlags,
	border gocv.BorderType, fill color.RGBA) error {
	if err := sized("warp", size); err != nil {
		return err
	}
	return failed("warp", C.cvx_warp_perspective(ptr(src), into(dst), ptr(matrix), C.int(size.X), C.int(size.Y),
		C.int(interp), C.int(border), scalar(fill)))
}

// GaussianBlur smooths src. Ksize is in pixels and odd, or (0, 0) to follow from the sigmas, which are in pixels too.
func GaussianBlur(src gocv.Mat, dst *gocv.Mat, ksize image.Point, sigmaX, sigmaY float64,
	border gocv.BorderType) error {
	return failed("blur", C.cvx_gaussian_blur(ptr(src), into(dst), C.int(ksize.X), C.int(ksize.Y),
		C.double(sigmaX), C.double(sigmaY), C.int(border)))
}
