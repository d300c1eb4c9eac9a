package overlay

import (
	"image/color"
	"math"
	"slices"

	"crimprule/vision/record"
)

// lab is a colour in CIELAB (ISO/CIE 11664-4), white point D65.
type lab struct{ l, a, b float64 }

// The scale for areas runs through CIELAB from a dark blue over a bluish green to a light yellow, in two straight legs of
// the same length, so that equal steps of area look like equal steps of colour. Lightness rises all the way: it reads
// without colour too, and for red-green blind readers, who are left with lightness and with blue against yellow. None of
// it is the grey of the dimmed metal round the strands.
var areaHues = [3]lab{{30, 18, -50}, {60, -37, 0}, {91, -12, 70}}

// areaHue is the colour at t of the scale, 0 to 1; what lies beyond has the colour of the end.
func areaHue(t float64) color.RGBA {
	t = 2 * math.Min(math.Max(t, 0), 1)
	from, to := areaHues[0], areaHues[1]
	if t > 1 {
		from, to, t = to, areaHues[2], t-1
	}
	mix := func(a, b float64) float64 { return a + t*(b-a) }
	return lab{mix(from.l, to.l), mix(from.a, to.a), mix(from.b, to.b)}.rgb()
}

// rgb is the colour in sRGB (IEC 61966-2-1), held to its range.
func (c lab) rgb() color.RGBA {
	fy := (c.l + 16) / 116
	cube := func(f float64) float64 {
		if f > 6.0/29 {
			return f * f * f
		}
		return 3 * 6.0 / 29 * 6.0 / 29 * (f - 4.0/29)
	}
	x, y, z := 0.95047*cube(fy+c.a/500), cube(fy), 1.08883*cube(fy-c.b/200)
	channel := func(v float64) uint8 {
		if v <= 0.0031308 {
			v *= 12.92
		} else {
			v = 1.055*math.Pow(v, 1/2.4) - 0.055
		}
		return uint8(math.Round(255 * math.Min(math.Max(v, 0), 1)))
	}
	return color.RGBA{
		channel(3.2406*x - 1.5372*y - 0.4986*z), channel(-0.9689*x + 1.8758*y + 0.0415*z), channel(0.0557*x - 0.2040*y + 1.0570*z), 255,
	}
}

// areaScale maps areas to colours: the median lies in the middle, the ends at median·(1 ± spread).
type areaScale struct{ median, spread float64 }

// newAreaScale makes the scale wide enough for 19 strands in 20, in steps of 5 % and not under 20 %, so that strands of
// nearly the same size look nearly the same. ok is false where no strand has an area.
func newAreaScale(marks []record.Mark) (s areaScale, ok bool) {
	var areas []float64
	for _, m := range marks {
		if m.Kind == record.MarkStrand && m.Size > 0 && !math.IsInf(m.Size, 0) {
			areas = append(areas, m.Size)
		}
	}
	if len(areas) == 0 {
		return areaScale{}, false
	}
	slices.Sort(areas)
	s.median = (areas[(len(areas)-1)/2] + areas[len(areas)/2]) / 2
	off := make([]float64, len(areas))
	for i, a := range areas {
		off[i] = math.Abs(a/s.median - 1)
	}
	slices.Sort(off)
	s.spread = math.Min(math.Max(math.Ceil(off[(len(off)-1)*19/20]*20)/20, 0.2), 0.95)
	return s, true
}

func (s areaScale) hue(area float64) color.RGBA {
	return areaHue((area/s.median-1)/s.spread/2 + 0.5)
}
