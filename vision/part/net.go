package part

import (
	"bytes"
	"compress/gzip"
	_ "embed" // for the networks' weights
	"fmt"
	"io"
	"math"
	"sync"

	"crimprule/internal/cvx"
)

// Two small U-Nets (Ronneberger, Fischer, Brox 2015) name what each pixel shows; training/README.md tells how they were
// trained, on what, and how well they do. The coarse one looks at the whole level picture at coarsePPM and answers at
// half of that; the fine one at a window along the part at finePPM. Their weights keep 12 bits of their fractions, so that
// they pack well.
//
//go:embed nets/coarse.onnx.gz
var coarseONNX []byte

//go:embed nets/fine.onnx.gz
var fineONNX []byte

const (
	coarsePPM    = 4
	coarseStem   = 2  // the coarse answer is this much smaller
	coarseStride = 32 // sides of the coarse input are multiples of this
	finePPM      = 16
	fineW, fineH = 384, 192
	netClasses   = Classes + 1 // the sleeve of a part on its side is a class of its own
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
// brightness 0..255; the answer is w/stem x h/stem. onSide is the part of the sleeve's share that stands for a part
// that lies on its side.
func (n *network) run(bgr [3][]float32, w, h, stem int) (shares [Classes]Plane, onSide Plane, err error) {
	n.once.Do(func() { n.net, n.err = unpacked(n.data) })
	if n.err != nil {
		return shares, onSide, n.err
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
		return shares, onSide, err
	}
	w, h = w/stem, h/stem
	if len(scores) != netClasses*w*h {
		return shares, onSide, fmt.Errorf("region finder: %d scores for %d classes of %d x %d pixels", len(scores), netClasses, w, h)
	}
	softmax(scores, w*h)
	plane := func(c int) Plane { return Plane{W: w, H: h, Pix: scores[c*w*h : (c+1)*w*h]} }
	for c := range shares {
		shares[c] = plane(c)
	}
	onSide = plane(Classes)
	for i, v := range onSide.Pix {
		shares[Sleeve].Pix[i] += v
	}
	return shares, onSide, nil
}

// unpacked reads a network from its gzipped ONNX file.
func unpacked(data []byte) (*cvx.Net, error) {
	r, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("region finder: %w", err)
	}
	onnx, err := io.ReadAll(r)
	if err != nil {
		return nil, fmt.Errorf("region finder: %w", err)
	}
	return cvx.ReadONNX(onnx)
}

// faint is how far below the likeliest class a score counts as nothing: its share would be below 1e-8, less than the
// precision of the others.
const faint = -18.5

// softmax turns scores, one plane of n pixels a class, into shares. It goes plane by plane over a stretch that stays in the
// processor's cache.
func softmax(scores []float32, n int) {
	const stretch = 1024
	var most, sum [stretch]float32
	for from := 0; from < n; from += stretch {
		m, s := most[:min(stretch, n-from)], sum[:min(stretch, n-from)]
		copy(m, scores[from:])
		for k := from + n; k < len(scores); k += n {
			for i, v := range scores[k : k+len(m)] {
				m[i] = max(m[i], v)
			}
		}
		clear(s)
		for k := from; k < len(scores); k += n {
			row := scores[k : k+len(m)]
			for i, v := range row {
				v -= m[i]
				if v < faint {
					row[i] = 0
					continue
				}
				row[i] = float32(math.Exp(float64(v)))
				s[i] += row[i]
			}
		}
		for k := from; k < len(scores); k += n {
			row := scores[k : k+len(m)]
			for i := range row {
				row[i] /= s[i]
			}
		}
	}
}
