package part

import (
	_ "embed" // for the networks' weights
	"fmt"
	"math"
	"sync"

	"crimprule/internal/cvx"
)

// Two small U-Nets (Ronneberger, Fischer, Brox 2015) name what each pixel shows; training/README.md tells how they were
// trained, on what, and how well they do. The coarse one looks at the whole level picture at coarsePPM and answers at
// half of that; the fine one at a window along the part at finePPM.
//
//go:embed nets/coarse.onnx
var coarseONNX []byte

//go:embed nets/fine.onnx
var fineONNX []byte

const (
	coarsePPM    = 4
	coarseStem   = 2  // the coarse answer is this much smaller
	coarseStride = 32 // sides of the coarse input are multiples of this
	finePPM      = 16
	fineW, fineH = 384, 192
)

// network is one of the two, read when it is first used. OpenCV's networks serve one caller at a time.
type network struct {
	once sync.Once
	mu   sync.Mutex
	net  *cvx.Net
	err  error
	data []byte
}

var coarseNet, fineNet = &network{data: coarseONNX}, &network{data: fineONNX}

// run gives the shares (0..1, together 1) of the classes for a picture of w x h pixels, three planes B, G, R of
// brightness 0..255; the answer is w/stem x h/stem.
func (n *network) run(bgr [3][]float32, w, h, stem int) (shares [Classes]Plane, err error) {
	n.once.Do(func() { n.net, n.err = cvx.ReadONNX(n.data) })
	if n.err != nil {
		return shares, n.err
	}
	blob := make([]float32, 0, 3*w*h)
	for _, c := range bgr {
		for _, v := range c {
			blob = append(blob, v/127.5-1)
		}
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	scores, err := n.net.Run(blob, 3, h, w)
	if err != nil {
		return shares, err
	}
	if w, h = w/stem, h/stem; len(scores) != Classes*w*h {
		return shares, fmt.Errorf("region finder: %d scores for %d classes of %d x %d pixels", len(scores), Classes, w, h)
	}
	softmax(scores, w*h)
	for c := range shares {
		shares[c] = Plane{W: w, H: h, Pix: scores[c*w*h : (c+1)*w*h]}
	}
	return shares, nil
}

// softmax turns scores, one plane of n pixels a class, into shares.
func softmax(scores []float32, n int) {
	for i := range n {
		most := scores[i]
		for k := i; k < len(scores); k += n {
			most = max(most, scores[k])
		}
		sum := float32(0)
		for k := i; k < len(scores); k += n {
			scores[k] = float32(math.Exp(float64(scores[k] - most)))
			sum += scores[k]
		}
		for k := i; k < len(scores); k += n {
			scores[k] /= sum
		}
	}
}
