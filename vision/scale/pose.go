package scale

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Assumptions on a phone's camera, used as Gaussian priors. Common practice, no source; the reference's own perspective
// overrides them as soon as its tilt or its distance lets it.
const (
	priorDistanceMM = 190.  // where no focal length is known: small parts are photographed from 110 to 350 mm
	priorLnDistance = 0.25  // standard deviation of the logarithm
	priorLnFocal    = 0.05  // a focal length from metadata: rounded, and the picture may be cropped
	priorK1         = 0.04  // radial distortion of a phone after its own correction
	floorPX         = 0.05  // no corner or edge is believed better: neighbours err alike, so residuals look too good
	centrePX        = 0.003 // the optical axis lies off the picture's centre by this share of the long side
	rejectSigma     = 5.    // evidence further off than this many robust deviations go
	rejectFloorPX   = 0.15  // but none that is nearer than this
)

// parameters of the pose fit: small rotation about the camera's axes, direction and logarithm of the distance of the
// reference's middle, K1, logarithm of F.
const (
	pRotX = iota
	pRotY
	pRotZ
	pX
	pY
	pLnZ
	pK1
	pLnF
	params
)

type vector [params]float64

// poseFit is a camera fitted to what was seen of a reference, with the covariance of its parameters.
type poseFit struct {
	name    string // of the reference, for words: chessboard, ...
	cam     Camera
	seen    []evidence
	assumed []assumption // beside those that every camera is held to
	focalPX float64      // from metadata, 0 unknown
	sigma   float64      // px, standard deviation of one number of the evidence
	cov     *mat.SymDense
	cost    float64
	size    [2]int
	flatMM  float64 // standard deviation of the reference's and the part's ground from one plane
	share   float64 // relative standard uncertainty of the reference's own size as it looks, common to all lengths
	views   []view  // where evidence leaves more open than small changes of cam; cov is then that of one view
}

// moved is the camera after a small change of the parameters.
func (c Camera) moved(d vector) Camera {
	rot := rotation(Vec{d[pRotX], d[pRotY], d[pRotZ]})
	out := c
	for i := range 3 {
		for j := range 3 {
			out.R[i][j] = rot[i][0]*c.R[0][j] + rot[i][1]*c.R[1][j] + rot[i][2]*c.R[2][j]
		}
	}
	z := c.T.Z * math.Exp(d[pLnZ])
	out.T = Vec{z * (c.T.X/c.T.Z + d[pX]), z * (c.T.Y/c.T.Z + d[pY]), z}
	out.K1 += d[pK1]
	out.F *= math.Exp(d[pLnF])
	return out
}

// rotation is Rodrigues' formula.
func rotation(v Vec) [3][3]float64 {
	a := math.Sqrt(v.X*v.X + v.Y*v.Y + v.Z*v.Z)
	s, c := 1-a*a/6, 0.5-a*a/24 // sin(a)/a and (1-cos(a))/a² near 0
	if a > 1e-4 {
		s, c = math.Sin(a)/a, (1-math.Cos(a))/(a*a)
	}
	k := [3][3]float64{{0, -v.Z, v.Y}, {v.Z, 0, -v.X}, {-v.Y, v.X, 0}}
	var r [3][3]float64
	for i := range 3 {
		for j := range 3 {
			kk := k[i][0]*k[0][j] + k[i][1]*k[1][j] + k[i][2]*k[2][j]
			r[i][j] = s*k[i][j] + c*kk
		}
		r[i][i]++
	}
	return r
}

// numbers is how many numbers the evidence gives.
func (f *poseFit) numbers() int {
	n := 0
	for _, e := range f.seen {
		n += e.numbers()
	}
	return n
}

// misfits is room for the residuals.
func (f *poseFit) misfits() []float64 { return make([]float64, f.numbers()+2+len(f.assumed)) }

// residuals are the evidence's distances from the model over sigma, then those of what is assumed.
func (f *poseFit) residuals(c Camera, out []float64) {
	n := 0
	for _, e := range f.seen {
		e.misfit(c, out[n:])
		for range e.numbers() {
			out[n] /= f.sigma
			n++
		}
	}
	for i, a := range f.assumed {
		out[n+2+i] = a(c)
	}
	out[n] = c.K1 / priorK1
	if f.focalPX > 0 {
		out[n+1] = math.Log(c.F/f.focalPX) / priorLnFocal
	} else {
		out[n+1] = math.Log(math.Max(c.Position().Z, 1e-3)/priorDistanceMM) / priorLnDistance
	}
}

func sumSquares(v []float64) float64 {
	s := 0.
	for _, x := range v {
		s += x * x
	}
	return s
}

// normal gives JᵀJ and Jᵀr at a camera, by central differences.
func (f *poseFit) normal(c Camera, r []float64) (*mat.SymDense, *mat.VecDense) {
	const h = 1e-6
	n := len(r)
	var jac [params][]float64
	low := make([]float64, n)
	for k := range params {
		jac[k] = make([]float64, n)
		var d vector
		d[k] = h
		f.residuals(c.moved(d), jac[k])
		d[k] = -h
		f.residuals(c.moved(d), low)
		for i := range low {
			jac[k][i] = (jac[k][i] - low[i]) / (2 * h)
		}
	}
	a, b := mat.NewSymDense(params, nil), mat.NewVecDense(params, nil)
	for k := range params {
		for l := k; l < params; l++ {
			s := 0.
			for i := range n {
				s += jac[k][i] * jac[l][i]
			}
			a.SetSym(k, l, s)
		}
		s := 0.
		for i := range n {
			s += jac[k][i] * r[i]
		}
		b.SetVec(k, s)
	}
	return a, b
}

// minimise runs Levenberg and Marquardt from the fit's camera.
func (f *poseFit) minimise() {
	r := f.misfits()
	try := make([]float64, len(r))
	f.residuals(f.cam, r)
	f.cost = sumSquares(r)
	lambda := 1e-3
	for range 60 {
		a, b := f.normal(f.cam, r)
		before := f.cost
		for range 8 {
			damped := mat.NewSymDense(params, nil)
			damped.CopySym(a)
			for k := range params {
				damped.SetSym(k, k, a.At(k, k)*(1+lambda))
			}
			var ch mat.Cholesky
			var step mat.VecDense
			if !ch.Factorize(damped) || ch.SolveVecTo(&step, b) != nil {
				lambda *= 10
				continue
			}
			var d vector
			for k := range d {
				d[k] = -step.AtVec(k)
			}
			c := f.cam.moved(d)
			f.residuals(c, try)
			if cost := sumSquares(try); cost < f.cost {
				f.cam, f.cost = c, cost
				r, try = try, r
				lambda = math.Max(lambda/10, 1e-9)
				break
			}
			lambda *= 10
		}
		if before-f.cost < 1e-7*f.cost {
			return
		}
	}
}

// contradiction is from how many standard uncertainties on the reference's perspective overrules the metadata.
const contradiction = 2.5

// fitCamera fits a camera with and without the focal length from the metadata (0: unknown). One that the reference's
// perspective contradicts is left out, and the note says so: pictures are cropped.
func fitCamera(fitWith func(focalPX float64) (*poseFit, error), focalPX float64) (*poseFit, string, error) {
	free, err := fitWith(0)
	if err != nil || focalPX <= 0 {
		return free, "", err
	}
	u := math.Hypot(priorLnFocal, free.spread(func(c Camera) float64 { return math.Log(c.F) }))
	if math.Abs(math.Log(free.cam.F/focalPX)) > contradiction*u {
		return free, fmt.Sprintf("the metadata's focal length of %.0f px does not fit the %s's perspective (%.0f px): "+
			"it is left out; was the picture cropped?", focalPX, free.name, free.cam.F), nil
	}
	fit, err := fitWith(focalPX)
	return fit, "", err
}

// solve starts the fit from several cameras, since the problem has more than one valley, keeps the best and then
// rejects what lies off. The evidence that is left is for the caller to judge.
func (f *poseFit) solve(starts []Camera) error {
	best := *f
	best.cost = math.Inf(1)
	for _, cam := range starts {
		try := *f
		try.cam = cam
		try.minimise()
		if try.cost < best.cost {
			best = try
		}
	}
	if math.IsInf(best.cost, 1) {
		return fmt.Errorf("%s: no camera fits what was seen of it", f.name)
	}
	*f = best
	for range 4 {
		before := len(f.seen)
		f.reject()
		f.estimateSigma()
		f.minimise()
		if len(f.seen) == before {
			break
		}
	}
	return nil
}

// distances are how far each piece of evidence lies from the model, in px.
func (f *poseFit) distances() []float64 {
	out := make([]float64, len(f.seen))
	var d [2]float64
	for i, e := range f.seen {
		e.misfit(f.cam, d[:])
		out[i] = math.Abs(d[0])
		if e.numbers() == 2 {
			out[i] = math.Hypot(d[0], d[1])
		}
	}
	return out
}

// reject drops evidence that lies off by more than a robust measure of the rest.
func (f *poseFit) reject() {
	d := f.distances()
	sorted := make([]float64, len(d))
	for i, e := range f.seen {
		sorted[i] = d[i] / medianOverSigma[e.numbers()]
	}
	slices.Sort(sorted)
	limit := math.Max(rejectFloorPX, rejectSigma*sorted[len(sorted)/2])
	kept := f.seen[:0:0]
	for i, e := range f.seen {
		if d[i] <= limit {
			kept = append(kept, e)
		}
	}
	f.seen = kept
}

func (f *poseFit) estimateSigma() {
	free := math.Max(float64(f.numbers()-params), 1)
	f.sigma = math.Max(floorPX, math.Sqrt(sumSquares(f.distances())/free))
}

func (f *poseFit) covariance() error {
	r := f.misfits()
	f.residuals(f.cam, r)
	a, _ := f.normal(f.cam, r)
	var ch mat.Cholesky
	if !ch.Factorize(a) {
		return fmt.Errorf("%s: the camera's place is not determined by what was seen of it", f.name)
	}
	f.cov = mat.NewSymDense(params, nil)
	return ch.InverseTo(f.cov)
}

// spread propagates the parameters' covariance to a quantity of the camera and gives its standard uncertainty.
func (f *poseFit) spread(of func(Camera) float64) float64 {
	const h = 1e-5
	g := mat.NewVecDense(params, nil)
	for k := range params {
		var d vector
		d[k] = h
		high := of(f.cam.moved(d))
		d[k] = -h
		g.SetVec(k, (high-of(f.cam.moved(d)))/(2*h))
	}
	return math.Hypot(math.Sqrt(math.Max(0, mat.Inner(g, f.cov, g))), f.elsewhere(of))
}

// reference turns the fit into what the rest of the program uses. The outline and the ground are the caller's to add.
func (f *poseFit) reference() Reference {
	d := f.distances()
	ref := Reference{Kind: f.name, Camera: f.cam, ResidualPX: math.Sqrt(sumSquares(d) / float64(len(d))), fit: f}
	ref.RelUDistance = f.spread(func(c Camera) float64 { return math.Log(c.Position().Z) })
	ref.UTiltDeg = ref.UViewDeg(Vec{})
	ref.RelU = f.lengthSpread()
	ref.FocalSource = f.focalSource()
	for _, e := range f.seen {
		ref.Points = append(ref.Points, e.at().point())
	}
	return ref
}

// lengthSpread is the root mean square of the relative uncertainty of short lengths in the plane, over the picture.
func (f *poseFit) lengthSpread() float64 {
	sum, n := 0., 0
	for i := 1; i <= 3; i++ {
		for j := 1; j <= 3; j++ {
			u := f.scaleSpread(float64(f.size[0]*i)/4, float64(f.size[1]*j)/4, 0)
			sum, n = sum+u*u, n+1
		}
	}
	return math.Sqrt(sum / float64(n))
}

// scaleSpread is the relative standard uncertainty of the local scale at a pixel, for things at height z.
func (f *poseFit) scaleSpread(px, py, z float64) float64 {
	u := f.spread(func(c Camera) float64 { return math.Log(c.mmPerPX(px, py, z)) })
	return math.Hypot(math.Hypot(u, f.share), f.flatMM/f.cam.Position().Z)
}

// focalSource tells in words what decided the focal length: the reference's perspective or the assumption.
func (f *poseFit) focalSource() string {
	u, prior, name := f.spread(func(c Camera) float64 { return math.Log(c.F) }), priorLnFocal, "the picture's metadata"
	if f.focalPX <= 0 {
		u, prior = f.spread(func(c Camera) float64 { return math.Log(c.Position().Z) }), priorLnDistance
		name = "an assumed distance of 110 to 350 mm"
	}
	switch {
	case u < prior/3:
		return "the " + f.name + "'s perspective"
	case u < 0.8*prior:
		return "the " + f.name + "'s perspective together with " + name
	}
	return name
}
