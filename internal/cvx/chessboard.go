package cvx

// #include "cvx.h"
import "C"

import (
	"fmt"

	"gocv.io/x/gocv"
)

// maxCorners bounds the inner corners of a board that is looked for or found.
const maxCorners = 4096

// Board is a chessboard as OpenCV saw it: its inner corners, row by row, in pixels. Either end may come first: the
// order is OpenCV's choice.
type Board struct {
	Corners    []gocv.Point2f
	Cols, Rows int // inner corners in a row, rows
}

// FindChessboardCorners is the classic finder for a board of w x h inner corners in an 8-bit grey or BGR picture. Its
// corners are good to about a pixel: refine them with CornerSubPix. Found is false where there is no such board, which
// is no error.
func FindChessboardCorners(img gocv.Mat, w, h int, flags gocv.CalibCBFlag) ([]gocv.Point2f, bool, error) {
	b, found, err := findBoard(img, w, h, flags, false)
	return b.Corners, found, err
}

// FindChessboardCornersSB is the newer, sector based finder, whose corners are sub-pixel already.
func FindChessboardCornersSB(img gocv.Mat, w, h int, flags gocv.CalibCBFlag) ([]gocv.Point2f, bool, error) {
	b, found, err := FindBoardSB(img, w, h, flags)
	return b.Corners, found, err
}

// FindBoardSB is FindChessboardCornersSB that tells the board's size as well: with gocv.CalibCBLarger among the flags
// w x h is the smallest board looked for, and the one that is found may be larger.
func FindBoardSB(img gocv.Mat, w, h int, flags gocv.CalibCBFlag) (Board, bool, error) {
	return findBoard(img, w, h, flags, true)
}

func findBoard(img gocv.Mat, w, h int, flags gocv.CalibCBFlag, sectors bool) (Board, bool, error) {
	const op = "find chessboard"
	if w < 3 || h < 3 || w > maxCorners/h {
		return Board{}, false, &Error{Op: op, Text: fmt.Sprintf("no board of %d x %d inner corners can be found", w, h)}
	}
	xy := make([]float32, 2*maxCorners)
	var found C.cvx_board
	call := func() *C.char {
		to, room := (*C.float)(&xy[0]), C.int(maxCorners)
		if sectors {
			return C.cvx_chessboard_sb(ptr(img), C.int(w), C.int(h), C.int(flags), to, room, &found)
		}
		return C.cvx_chessboard(ptr(img), C.int(w), C.int(h), C.int(flags), to, room, &found)
	}
	if err := failed(op, call()); err != nil || found.count == 0 {
		return Board{}, false, err
	}
	b := Board{Cols: int(found.cols), Rows: int(found.rows), Corners: make([]gocv.Point2f, found.count)}
	for i := range b.Corners {
		b.Corners[i] = gocv.Point2f{X: xy[2*i], Y: xy[2*i+1]}
	}
	return b, true, nil
}

// CornerSubPix moves each corner, in place, to the nearest saddle point of an 8-bit or float grey picture. Half is
// half the side of the window that is looked at around each corner, zero half the side of the part of it that is left
// out (-1: none), both in pixels; it stops after that many rounds, or when a corner moves by less than epsilon pixels.
// A corner outside the picture is an error.
//
// OpenCV 4.6 does not check that, and crashes on a corner that is no number: it is checked here.
func CornerSubPix(img gocv.Mat, corners []gocv.Point2f, half, zero, rounds int, epsilon float64) error {
	if len(corners) == 0 {
		return nil
	}
	xy := make([]float32, 0, 2*len(corners))
	for _, c := range corners {
		xy = append(xy, c.X, c.Y)
	}
	err := failed("refine corners", C.cvx_corner_sub_pix(ptr(img), (*C.float)(&xy[0]), C.int(len(corners)), C.int(half),
		C.int(zero), C.int(rounds), C.double(epsilon)))
	if err != nil {
		return err
	}
	for i := range corners {
		corners[i] = gocv.Point2f{X: xy[2*i], Y: xy[2*i+1]}
	}
	return nil
}
