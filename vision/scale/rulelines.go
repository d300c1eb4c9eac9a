package scale

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
)

// dash is a short straight dark line in a picture.
type dash struct {
	mid  pt
	dir  pt // unit vector along it, either way
	half float64
}

func (d dash) end(s float64) pt { return d.mid.add(d.dir.mul(s * d.half)) }

const (
	valleyStep  = 2    // px of the reduced picture, the step of the second differences
	minValley   = 0.02 // second difference over brightness: a line 4 % darker than what lies beside it
	brightFloor = 16.  // grey levels that are added to the brightness, about the noise of dark tones
	minDash     = 6    // px
	maxBow      = 0.8  // px rms that a dash may deviate from its line
	dashTurn    = 0.35 // radians from the mean direction up to which a pixel belongs to a dash
	maxDashes   = 12000
)

// reduced gives the grey picture with its long side brought to at most `side` pixels, smoothed a little.
func reduced(grey gocv.Mat, side float64) (p plane32, shrink float64, err error) {
	small := gocv.NewMat()
	defer func() { _ = small.Close() }()
	shrink = math.Min(1, side/float64(max(grey.Cols(), grey.Rows())))
	if shrink < 1 {
		size := image.Pt(max(1, int(float64(grey.Cols())*shrink+0.5)), max(1, int(float64(grey.Rows())*shrink+0.5)))
		if err := cvx.Resize(grey, &small, size, gocv.InterpolationArea); err != nil {
			return p, shrink, err
		}
	} else {
		grey.CopyTo(&small)
	}
	if err := cvx.ConvertTo(small, &small, gocv.MatTypeCV32F, 1, 0); err != nil {
		return p, shrink, err
	}
	if err := cvx.GaussianBlur(small, &small, image.Pt(5, 5), 1, 1, gocv.BorderReplicate); err != nil {
		return p, shrink, err
	}
	data, err := small.DataPtrFloat32()
	if err != nil {
		return p, shrink, err
	}
	return plane32{small.Cols(), small.Rows(), append([]float32(nil), data...)}, shrink, nil
}

// valley is a pixel on the floor of a dark line.
type valley struct {
	x, y int32
	turn float32 // direction of the line, radians modulo pi
	used bool
}

// valleys marks the pixels at which brightness has a minimum across a line: where the larger eigenvalue of the Hessian is
// positive and larger than its neighbours' across (a ridge after Haralick, 1983; the method from memory). index gives
// each pixel's place in the list, from 1.
func (p plane32) valleys() (list []valley, index []int32) {
	const k = valleyStep
	w := p.w
	strength := make([]float32, len(p.v))
	for y := k; y < p.h-k; y++ {
		up, mid, down := p.v[(y-k)*w:(y-k+1)*w], p.v[y*w:(y+1)*w], p.v[(y+k)*w:(y+k+1)*w]
		row := strength[y*w : (y+1)*w]
		for x := k; x < w-k; x++ {
			c := 2 * mid[x]
			xx, yy := mid[x-k]-c+mid[x+k], up[x]-c+down[x]
			least := minValley * (mid[x] + brightFloor)
			if xx+yy < least {
				continue
			}
			xy := (down[x+k] - down[x-k] - up[x+k] + up[x-k]) / 4
			half, diff := (xx+yy)/2, (xx-yy)/2
			if s := half + float32(math.Sqrt(float64(diff*diff+xy*xy))); s > 2*least {
				row[x] = s
			}
		}
	}
	index = make([]int32, len(p.v))
	for y := k + 1; y < p.h-k-1; y++ {
		for x := k + 1; x < w-k-1; x++ {
			o := y*w + x
			s := strength[o]
			if s == 0 {
				continue
			}
			across := p.across(x, y)
			sin, cos := math.Sincos(across)
			step := int(math.Round(cos)) + w*int(math.Round(sin))
			if s < strength[o+step] || s <= strength[o-step] {
				continue
			}
			list = append(list, valley{x: int32(x), y: int32(y), turn: float32(math.Mod(across+1.5*math.Pi, math.Pi))}) //nolint:gosec // a picture's side
			index[o] = int32(len(list))                                                                                 //nolint:gosec // fewer than pixels
		}
	}
	return list, index
}

// across is the direction of the Hessian's larger eigenvalue.
func (p plane32) across(x, y int) float64 {
	const k = valleyStep
	w, o := p.w, y*p.w+x
	c := 2 * p.v[o]
	xx, yy := p.v[o-k]-c+p.v[o+k], p.v[o-k*w]-c+p.v[o+k*w]
	xy := (p.v[o+k*w+k] - p.v[o+k*w-k] - p.v[o-k*w+k] + p.v[o-k*w-k]) / 4
	return math.Atan2(2*float64(xy), float64(xx-yy)) / 2
}

// dashes joins neighbouring valley pixels of like direction and keeps what is straight.
func (p plane32) dashes() []dash {
	list, index := p.valleys()
	var out []dash
	var region []int32
	for i := range list {
		if list[i].used {
			continue
		}
		region = p.region(list, index, int32(i), region[:0]) //nolint:gosec // fewer than pixels
		if len(region) < minDash {
			continue
		}
		if d, ok := straight(list, region); ok {
			if out = append(out, d); len(out) == maxDashes {
				break
			}
		}
	}
	return out
}

// region grows from a pixel over neighbours whose direction is that of the whole, as in the line segment detector of
// Grompone von Gioi et al. (2010; from memory).
func (p plane32) region(list []valley, index []int32, from int32, out []int32) []int32 {
	list[from].used = true
	out = append(out, from)
	sin2, cos2 := math.Sincos(2 * float64(list[from].turn))
	turn := float64(list[from].turn)
	for at := 0; at < len(out); at++ {
		v := list[out[at]]
		for dy := int32(-1); dy <= 1; dy++ {
			for dx := int32(-1); dx <= 1; dx++ {
				n := index[int(v.y+dy)*p.w+int(v.x+dx)] - 1
				if n < 0 || list[n].used || between(float64(list[n].turn), turn) > dashTurn {
					continue
				}
				list[n].used = true
				out = append(out, n)
				s, c := math.Sincos(2 * float64(list[n].turn))
				sin2, cos2 = sin2+s, cos2+c
				turn = math.Atan2(sin2, cos2) / 2
			}
		}
	}
	return out
}

// straight fits a line to a region's pixels by their moments.
func straight(list []valley, region []int32) (dash, bool) {
	var mx, my, xx, yy, xy float64
	n := float64(len(region))
	for _, i := range region {
		mx, my = mx+float64(list[i].x)/n, my+float64(list[i].y)/n
	}
	for _, i := range region {
		x, y := float64(list[i].x)-mx, float64(list[i].y)-my
		xx, yy, xy = xx+x*x/n, yy+y*y/n, xy+x*y/n
	}
	turn := math.Atan2(2*xy, xx-yy) / 2
	sin, cos := math.Sincos(turn)
	bow := xx*sin*sin + yy*cos*cos - 2*xy*sin*cos
	d := dash{dir: pt{cos, sin}}
	low, high := math.Inf(1), math.Inf(-1)
	for _, i := range region {
		t := (float64(list[i].x)-mx)*cos + (float64(list[i].y)-my)*sin
		low, high = math.Min(low, t), math.Max(high, t)
	}
	d.mid, d.half = pt{mx, my}.add(d.dir.mul((low+high)/2)), (high-low+1)/2
	return d, bow < maxBow*maxBow && 2*d.half >= minDash
}
