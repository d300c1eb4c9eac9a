// Package cvx stands beside gocv and does two things: it gives what gocv 0.31 lacks, and it turns every C++ exception
// into a Go error. gocv 0.31 lets an exception end the process, so whatever a picture's content can make OpenCV throw
// at is called through here.
//
// Mats are gocv's and stay the caller's: nothing here keeps one, and whoever made one closes it. An output Mat must
// have been opened (gocv.NewMat) and is overwritten; after an error its content is undefined. Lengths are pixels, pixel
// (0, 0) is the centre of the top left one. The functions may be called from several goroutines at once as long as no
// two of them write the same Mat. What cannot be caught is a broken Mat: use none after its Close.
package cvx

/*
#cgo pkg-config: opencv4
#cgo CXXFLAGS: --std=c++14
#include <stdlib.h>
#include "cvx.h"
*/
import "C"

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"unsafe"

	"gocv.io/x/gocv"
)

// Error is what OpenCV threw.
type Error struct {
	Op   string // what was being done, as "decode"
	Text string // OpenCV's own words, on one line
}

func (e *Error) Error() string { return "OpenCV: " + e.Op + ": " + e.Text }

// failed turns a message from the C side into an error and frees it; nil stays nil.
func failed(op string, text *C.char) error {
	if text == nil {
		return nil
	}
	defer C.free(unsafe.Pointer(text))
	return &Error{Op: op, Text: strings.Join(strings.Fields(C.GoString(text)), " ")}
}

// ptr gives the cv::Mat behind a gocv.Mat; nil for one that was closed or never opened.
func ptr(m gocv.Mat) unsafe.Pointer { return unsafe.Pointer(m.Ptr()) }

// into gives the cv::Mat that a result is written to.
func into(m *gocv.Mat) unsafe.Pointer {
	if m == nil {
		return nil
	}
	return ptr(*m)
}

// OpenCV prints what it thinks of a broken picture on standard error, where people read our own line about it. It is
// silenced for the whole process, unless whoever hunts a fault sets OPENCV_LOG_LEVEL. What the libraries under OpenCV
// print by themselves (libjpeg, libpng) stays.
func init() { C.cvx_quiet() }

// throw makes OpenCV throw, so that a test can see the exception arrive as an error.
func throw(message string) error {
	text := C.CString(message)
	defer C.free(unsafe.Pointer(text))
	return failed("throw", C.cvx_throw(text))
}

// Decode decodes a picture from its file's bytes, which it does not copy. Flags are OpenCV's (gocv.IMReadColor and so
// on). Bytes that OpenCV cannot decode are an error, never an empty Mat. The caller closes the Mat.
func Decode(data []byte, flags gocv.IMReadFlag) (gocv.Mat, error) {
	if len(data) == 0 || len(data) > math.MaxInt32 {
		return gocv.Mat{}, &Error{Op: "decode", Text: fmt.Sprintf("%d bytes are no picture", len(data))}
	}
	m := gocv.NewMat()
	err := failed("decode", C.cvx_decode(unsafe.Pointer(&data[0]), C.int(len(data)), C.int(flags), into(&m)))
	if err == nil && m.Empty() {
		err = &Error{Op: "decode", Text: "the data cannot be decoded"}
	}
	if err != nil {
		return gocv.Mat{}, errors.Join(err, m.Close())
	}
	return m, nil
}

// SetNumThreads sets how many threads OpenCV may use for one call, for the whole process: 1 for predictable times and
// load where pictures are worked on side by side. A negative number gives OpenCV's own choice back.
func SetNumThreads(n int) { _ = failed("set threads", C.cvx_set_threads(C.int(n))) }

// NumThreads is how many threads OpenCV may use for one call.
func NumThreads() int { return int(C.cvx_threads()) }

// Version is the version of the OpenCV headers that the program was built with, as "4.6.0".
func Version() string { return C.GoString(C.cvx_version()) }
