package section

import "crimprule/vision/section/raster"

type orientTmp struct {
	TurnDeg, Margin float64
	Notch           raster.Point
}

var devOrient orientTmp

func orient(line []raster.Point, v view) (orientTmp, error) {
	o := devOrient
	p := v.inside(o.Notch)
	best := 1e18
	for _, q := range line {
		if d := (q.X-p.X)*(q.X-p.X) + (q.Y-p.Y)*(q.Y-p.Y); d < best {
			best, o.Notch = d, q
		}
	}
	return o, nil
}
