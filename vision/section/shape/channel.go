package shape

import (
	"errors"
	"math"
	"slices"

	"crimprule/vision/section/raster"
)

// leastCavity is the area of a cavity, in shares of half the part's outer rectangle, below which it is none.
const leastCavity = 0.04

// channel looks whether the outer outline runs through an open channel into the cavity. If so, the shortest link
// between the wings closes the cavity, which is added to the pieces.
func (c *cavity) channel(o *outline) (open bool, err error) {
	arc := make([]raster.Point, 0, o.notch.to-o.notch.from+1)
	y := make([]float64, 0, cap(arc))
	for i := o.notch.from; i <= o.notch.to; i++ {
		arc, y = append(arc, o.at(i)), append(y, o.mean(i, 2).Y)
	}
	turns := turningPoints(y, math.Max(0.05, 6*o.sigma))
	var minima []int
	for _, e := range turns {
		if !e.top && e.i > 0 && e.i < len(y)-1 {
			minima = append(minima, e.i)
		}
	}
	if len(minima) < 2 {
		return false, nil
	}
	// Down the right wing first: the curve is counterclockwise.
	right, left := c.bankEnd(arc, minima[0], true), c.bankEnd(arc, minima[len(minima)-1], false)
	if right >= left {
		return false, errors.New("the channel between the wings crosses itself; follow the edge again")
	}
	c.opening = math.Inf(1)
	at := [2]int{}
	touch := math.Inf(1)
	soft := curve{p: arc, step: o.step}
	k := soft.steps(0.012)
	for i := k; i <= right-k/2; i++ {
		for j := left + k/2; j < len(arc)-k; j++ {
			a, b := soft.mean(i, k), soft.mean(j, k)
			d := dist(a, b)
			if d < touchMM && (a.Y+b.Y)/2 < touch { // the lowest place where they touch
				touch, c.opening, at = (a.Y+b.Y)/2, d, [2]int{i, j}
			}
			if math.IsInf(touch, 1) && d < c.opening {
				c.opening, at = d, [2]int{i, j}
			}
		}
	}
	if math.IsInf(c.opening, 1) {
		return false, errors.New("the channel between the wings is too short to be measured; follow the edge again")
	}
	piece := slices.Clone(arc[at[0] : at[1]+1])
	slices.Reverse(piece)
	if raster.Area(piece) < leastCavity*o.halfWidth*o.height { // a fault of the outline in the notch, no cavity
		c.opening = 0
		return false, nil
	}
	c.pieces = append(c.pieces, piece)
	c.contact = between(arc[at[0]], arc[at[1]], 0.5)
	c.link = [2]raster.Point{arc[at[1]], arc[at[0]]}
	if c.opening < touchMM {
		c.opening = 0
		c.link = [2]raster.Point{c.contact, c.contact}
	}
	return true, nil
}

// bankEnd is where a wing's bank ends: at its tip, or, where that touches floor or wall and so cuts the cavity, at the
// piece that was cut off.
func (c *cavity) bankEnd(arc []raster.Point, tip int, right bool) int {
	for _, p := range c.pieces {
		best, at := math.Inf(1), tip
		for i, a := range arc {
			for _, b := range p {
				if d := dist(a, b); d < best {
					best, at = d, i
				}
			}
		}
		if right && at < tip || !right && at > tip {
			tip = at
		}
	}
	return tip
}
