package scale

// evidence is something seen in the picture whose place in the world is known, wholly or in part. Each kind of reference
// has its own; the fit of the camera needs no more of it than this.
type evidence interface {
	// numbers is in how many independent directions of the picture the evidence says where it lies: 1 or 2.
	numbers() int
	// misfit writes for each of them how far the camera's picture of it lies from where it was seen, in px. Evidence that
	// is surer or less sure than the rest divides by its own share of the common standard deviation.
	misfit(c Camera, out []float64)
	// at is where it was seen.
	at() pt
}

// assumption is how far a camera lies from what is assumed of it, in standard deviations. A reference also uses one to
// hold what it cannot show and what is not asked for, such as the shift of a rule along its graduations.
type assumption func(c Camera) float64

// medianOverSigma is the median of a piece of evidence's distance over the standard deviation of one of its numbers, by how many
// numbers it has: of the absolute value of a normal variable, and of the Rayleigh distribution.
var medianOverSigma = [3]float64{1: 0.6745, 2: 1.1774}

// observation is a point: its place in the world in mm and in the picture in px.
type observation struct {
	w Vec
	p pt
}

func (observation) numbers() int { return 2 }
func (o observation) at() pt     { return o.p }

func (o observation) misfit(c Camera, out []float64) {
	x, y := c.Project(o.w)
	out[0], out[1] = x-o.p.x, y-o.p.y
}

// onLine is a place in the picture at which the world's line x = X, z = 0 is seen. It says nothing of where along the line
// that is. The misfit is square to the line's picture.
type onLine struct {
	xMM   float64
	p     pt
	share float64 // its standard deviation over that of the common evidence
}

func (onLine) numbers() int { return 1 }
func (o onLine) at() pt     { return o.p }

func (o onLine) misfit(c Camera, out []float64) {
	w := c.OnPlane(o.p.x, o.p.y, 0)
	const step = 0.5 // mm, to either side along the line: short, so that distortion does not bend it
	ax, ay := c.Project(Vec{o.xMM, w.Y - step, 0})
	bx, by := c.Project(Vec{o.xMM, w.Y + step, 0})
	along := pt{bx - ax, by - ay}
	out[0] = along.mul(1/along.norm()).cross(o.p.sub(pt{(ax + bx) / 2, (ay + by) / 2})) / o.share
}
