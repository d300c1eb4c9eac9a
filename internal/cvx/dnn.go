package cvx

/*
#include <stdlib.h>
#include "cvx.h"
*/
import "C"

import (
	"fmt"
	"runtime"
	"unsafe"
)

// Net is a network for OpenCV's dnn module. It serves one goroutine at a time.
type Net struct{ p unsafe.Pointer }

// ReadONNX reads a network from the bytes of an ONNX file (opset 11). It is freed with the last reference to it.
func ReadONNX(data []byte) (*Net, error) {
	if len(data) == 0 {
		return nil, &Error{Op: "read network", Text: "no bytes"}
	}
	n := &Net{}
	if err := failed("read network", C.cvx_net_read(unsafe.Pointer(&data[0]), C.size_t(len(data)), &n.p)); err != nil {
		return nil, err
	}
	runtime.AddCleanup(n, func(p unsafe.Pointer) { C.cvx_net_free(p) }, n.p)
	return n, nil
}

// Run sends one picture of the given shape (planes, rows, columns; plane by plane, row by row) through the network and
// gives all numbers of its one output.
func (n *Net) Run(in []float32, planes, rows, cols int) ([]float32, error) {
	if planes <= 0 || rows <= 0 || cols <= 0 || len(in) != planes*rows*cols {
		return nil, &Error{Op: "run network", Text: fmt.Sprintf("%d numbers are no picture of %d planes of %d x %d", len(in), planes, rows, cols)}
	}
	var count C.int
	var values *C.float
	err := failed("run network", C.cvx_net_run(n.p, (*C.float)(&in[0]), C.int(planes), C.int(rows), C.int(cols), &values, &count))
	runtime.KeepAlive(n)
	if err != nil {
		return nil, err
	}
	defer C.free(unsafe.Pointer(values))
	out := make([]float32, count)
	copy(out, unsafe.Slice((*float32)(values), int(count)))
	return out, nil
}
