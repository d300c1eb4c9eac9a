package overlay

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/image/vector"

	"crimprule/vision/record"
)

// canvas draws anti-aliased lines. Coordinates are those of the record: whole numbers are the centres of pixels.
type canvas struct{ img *image.RGBA }

// line draws a polyline with round ends and joints, on a dark rim.
func (c canvas) line(points []record.Point, s style) {
	var parts [][]record.Point
	for _, part := range clipped(points, c.img.Bounds().Inset(-20)) {
		if s.dash != nil {
			parts = append(parts, dashes(part, s.dash)...)
		} else {
			parts = append(parts, part)
		}
	}
	c.stroke(parts, s.width+rim(s), casing)
	c.stroke(parts, s.width, s.hue)
}

// rim is what the dark casing adds to a line: little to a thin one, which would drown in it.
func rim(s style) float64 { return math.Min(2, s.width) }

// stroke fills the union of thick polylines.
func (c canvas) stroke(parts [][]record.Point, width float64, hue color.RGBA) {
	lo, hi, ok := bounds(parts)
	if !ok {
		return
	}
	r := math.Max(width/2, 0.5)
	area := image.Rect(int(math.Floor(lo.X-r))-1, int(math.Floor(lo.Y-r))-1, int(math.Ceil(hi.X+r))+2, int(math.Ceil(hi.Y+r))+2).
		Intersect(c.img.Bounds())
	if area.Empty() {
		return
	}
	raster := vector.NewRasterizer(area.Dx(), area.Dy())
	// The rasterizer counts from the pixel's corner, the record from its centre.
	origin := record.Point{X: float64(area.Min.X) - 0.5, Y: float64(area.Min.Y) - 0.5}
	for _, part := range parts {
		for i, p := range part {
			disc(raster, p, r, origin)
			if i > 0 {
				bar(raster, part[i-1], p, r, origin)
			}
		}
	}
	raster.Draw(c.img, area, image.NewUniform(premultiplied(hue)), image.Point{})
}

func premultiplied(c color.RGBA) color.Color { return color.NRGBA(c) }

// disc and bar turn the same way round, so that where they overlap the rasterizer adds them up and does not take one
// from the other.
func disc(raster *vector.Rasterizer, at record.Point, r float64, origin record.Point) {
	const sides = 12
	points := make([]record.Point, sides)
	for i := range points {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / sides)
		points[i] = record.Point{X: at.X + r*cos, Y: at.Y + r*sin}
	}
	polygon(raster, points, origin)
}

func bar(raster *vector.Rasterizer, a, b record.Point, r float64, origin record.Point) {
	dx, dy := b.X-a.X, b.Y-a.Y
	length := math.Hypot(dx, dy)
	if length == 0 {
		return
	}
	nx, ny := -dy/length*r, dx/length*r
	polygon(raster, []record.Point{
		{X: a.X - nx, Y: a.Y - ny}, {X: b.X - nx, Y: b.Y - ny}, {X: b.X + nx, Y: b.Y + ny}, {X: a.X + nx, Y: a.Y + ny},
	}, origin)
}

func polygon(raster *vector.Rasterizer, points []record.Point, origin record.Point) {
	for i, p := range points {
		x, y := float32(p.X-origin.X), float32(p.Y-origin.Y)
		if i == 0 {
			raster.MoveTo(x, y)
		} else {
			raster.LineTo(x, y)
		}
	}
	raster.ClosePath()
}

// clipped gives the pieces of a polyline that lie in the box, so that a line that runs far out of the picture costs no
// more than what is seen of it (Liang and Barsky's line clipping, 1984).
func clipped(points []record.Point, box image.Rectangle) [][]record.Point {
	if len(points) == 1 {
		return [][]record.Point{points}
	}
	var parts [][]record.Point
	joined := false // whether the last piece ends where the next segment begins
	for k := 1; k < len(points); k++ {
		a, b := points[k-1], points[k]
		from, to := 0.0, 1.0
		for _, side := range [4][2]float64{ // each: what p·t <= q asks of t on the segment a + t·(b-a)
			{a.X - b.X, a.X - float64(box.Min.X)}, {b.X - a.X, float64(box.Max.X) - a.X},
			{a.Y - b.Y, a.Y - float64(box.Min.Y)}, {b.Y - a.Y, float64(box.Max.Y) - a.Y},
		} {
			p, q := side[0], side[1]
			switch {
			case p < 0:
				from = math.Max(from, q/p)
			case p > 0:
				to = math.Min(to, q/p)
			case q < 0:
				to = -1
			}
		}
		if from > to {
			joined = false
			continue
		}
		at := func(t float64) record.Point { return record.Point{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)} }
		if !joined || from > 0 {
			parts = append(parts, []record.Point{at(from)})
		}
		parts[len(parts)-1] = append(parts[len(parts)-1], at(to))
		joined = to == 1
	}
	return parts
}

// dashes cuts a polyline into the pieces that a pattern of on and off lengths leaves of it.
func dashes(points []record.Point, pattern []float64) [][]record.Point {
	var parts [][]record.Point
	var part []record.Point
	i, left, on := 0, pattern[0], true
	for k := 1; k < len(points); k++ {
		a, b := points[k-1], points[k]
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		if on && part == nil {
			part = []record.Point{a}
		}
		for at := 0.0; at < length; {
			step := math.Min(left, length-at)
			at += step
			left -= step
			p := record.Point{X: a.X + (b.X-a.X)*at/length, Y: a.Y + (b.Y-a.Y)*at/length}
			if on {
				part = append(part, p)
			}
			if left > 1e-9 {
				continue
			}
			if on {
				parts = append(parts, part)
				part = nil
			} else {
				part = []record.Point{p}
			}
			on = !on
			i = (i + 1) % len(pattern)
			left = pattern[i]
		}
	}
	if on && len(part) > 1 {
		parts = append(parts, part)
	}
	return parts
}

// bounds is the box round all finite points; ok is false where there is none.
func bounds(parts [][]record.Point) (lo, hi record.Point, ok bool) {
	lo, hi = record.Point{X: math.Inf(1), Y: math.Inf(1)}, record.Point{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, part := range parts {
		for _, p := range part {
			lo.X, lo.Y = math.Min(lo.X, p.X), math.Min(lo.Y, p.Y)
			hi.X, hi.Y = math.Max(hi.X, p.X), math.Max(hi.Y, p.Y)
			ok = true
		}
	}
	return lo, hi, ok
}
