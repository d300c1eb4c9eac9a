package scale

import (
	"math"

	"crimprule/vision/record"
)

// box is a rectangle of whole pixels, rims included.
type box struct{ x0, y0, x1, y1 int }

func (b box) join(o box) box {
	return box{min(b.x0, o.x0), min(b.y0, o.y0), max(b.x1, o.x1), max(b.y1, o.y1)}
}

func (b box) widened(dx, dy int) box { return box{b.x0 - dx, b.y0 - dy, b.x1 + dx, b.y1 + dy} }

func (b box) within(o box) box {
	return box{max(b.x0, o.x0), max(b.y0, o.y0), min(b.x1, o.x1), min(b.y1, o.y1)}
}

func (b box) meets(o box) bool { return b.x0 <= o.x1 && o.x0 <= b.x1 && b.y0 <= o.y1 && o.y0 <= b.y1 }

func (b box) w() int { return b.x1 - b.x0 + 1 }
func (b box) h() int { return b.y1 - b.y0 + 1 }

// outline goes round the rectangle's pixels.
func (b box) outline() []record.Point {
	l, t, r, d := float64(b.x0)-0.5, float64(b.y0)-0.5, float64(b.x1)+0.5, float64(b.y1)+0.5
	return []record.Point{{X: l, Y: t}, {X: r, Y: t}, {X: r, Y: d}, {X: l, Y: d}}
}

// findLabel finds what was drawn with the bar: its ticks, the text beside it and the box round both. It sets label,
// with a margin, and labelled.
func (b *drawnBar) findLabel(p plane8) {
	picture := box{0, 0, p.w - 1, p.h - 1}
	body := p.withTicks(b)
	b.label = body
	if around, ok := p.boxRound(b, body); ok {
		b.label = b.label.join(around)
	}
	length := int(b.lengthPX())
	window := b.label.widened(max(length*3/4, p.w/5), max(length/2, p.h/10)).within(picture)
	letters := p.letters(b, window, body)
	lines := textLines(letters)
	if b.upright {
		lines = append(lines, swapped(textLines(swapped(letters)))...)
	}
	for _, line := range lines {
		small := line.h()
		if b.upright {
			small = min(line.w(), line.h())
		}
		if nearBar(line, body, small) || line.meets(b.label) {
			b.label, b.labelled = b.label.join(line), true
			b.isLetter = b.isLetter || 2*length < 3*small
		}
	}
	margin := max(4, p.w/320)
	b.label = b.label.widened(margin, margin).within(picture)
}

// nearBar tells whether a line of text stands as close to a bar as its label does: up to two and a half times the
// height of the letters away.
func nearBar(line, bar box, letterHeight int) bool {
	reach := letterHeight * 5 / 2
	return line.meets(bar.widened(reach, reach))
}

// swapped gives boxes of the transposed picture.
func swapped(boxes []box) []box {
	out := make([]box, len(boxes))
	for i, b := range boxes {
		out[i] = box{b.y0, b.x0, b.y1, b.x1}
	}
	return out
}

// withTicks is the bar with its end ticks.
func (p plane8) withTicks(b *drawnBar) box {
	body := box{int(math.Round(b.left.at)), int(math.Round(b.top)), int(math.Round(b.right.at)), int(math.Round(b.bottom))}
	ink := func(x, y int) bool {
		return x >= 0 && y >= 0 && x < p.w && y < p.h && math.Abs(float64(p.v[y*p.w+x])-b.tone) < b.contrast/2
	}
	thick := max(2, min(b.yb-b.ya+1, body.w()/8))
	for _, end := range [2]int{body.x0 + 1, body.x1 - thick} {
		for _, step := range [2]int{-1, 1} {
			y := (b.ya + b.yb) / 2
			for going := true; going && absInt(y-b.ya) <= body.w(); {
				going = false
				for x := end; x < end+thick; x++ {
					going = going || ink(x, y+step)
				}
				if going {
					y += step
				}
			}
			body = body.join(box{body.x0, y, body.x1, y})
		}
	}
	return body.within(box{0, 0, p.w - 1, p.h - 1})
}

// letters are the connected spots of the bar's tone in a window that are as large as letters. What reaches out of the
// window is none: that is how the section's metal is kept out.
func (p plane8) letters(b *drawnBar, window, body box) []box {
	const smallest = 5
	largest := max(24, p.h/10, int(b.lengthPX()/3))
	w, h := window.w(), window.h()
	ink := make([]bool, w*h)
	for y := range h {
		row := p.v[(window.y0+y)*p.w+window.x0:]
		for x := range w {
			ink[y*w+x] = b.sign*(float64(row[x])-b.ground) > b.contrast/2
		}
	}
	var found []box
	var todo []int
	for start := range ink {
		if !ink[start] {
			continue
		}
		spot := box{w, h, -1, -1}
		todo = append(todo[:0], start)
		ink[start] = false
		for len(todo) > 0 {
			at := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			x, y := at%w, at/w
			spot = spot.join(box{x, y, x, y})
			for ny := max(0, y-1); ny <= min(h-1, y+1); ny++ {
				for nx := max(0, x-1); nx <= min(w-1, x+1); nx++ {
					if ink[ny*w+nx] {
						ink[ny*w+nx] = false
						todo = append(todo, ny*w+nx)
					}
				}
			}
		}
		rim := spot.x0 == 0 || spot.y0 == 0 || spot.x1 == w-1 || spot.y1 == h-1
		if rim || spot.h() < smallest || spot.h() > largest || spot.w() > 2*largest {
			continue
		}
		spot = box{spot.x0 + window.x0, spot.y0 + window.y0, spot.x1 + window.x0, spot.y1 + window.y0}
		if !spot.meets(body) {
			found = append(found, spot)
		}
	}
	return found
}

// textLines joins letters that stand beside each other on one line: at least two on one base line, close together and
// of like height.
func textLines(letters []box) []box {
	const most = 400 // more spots than this are no text but the picture's grain
	if len(letters) > most {
		return nil
	}
	line := make([]int, len(letters)) // each letter's line, named after one of its letters
	for i := range line {
		line[i] = i
	}
	based := map[int]bool{} // lines with a common base line
	for i, a := range letters {
		for j, c := range letters[:i] {
			if !sameLine(a, c) {
				continue
			}
			from, to := line[j], line[i]
			base := absInt(a.y1-c.y1) <= max(1, max(a.h(), c.h())/10) || based[from] || based[to]
			for k := range line {
				if line[k] == from {
					line[k] = to
				}
			}
			based[to] = base
		}
	}
	joined := map[int]box{}
	var lines []box
	for i, l := range letters {
		if !based[line[i]] {
			continue
		}
		if whole, ok := joined[line[i]]; ok {
			l = l.join(whole)
		}
		joined[line[i]] = l
	}
	for i := range letters { // in order, so that the same picture always gives the same result
		if whole, ok := joined[i]; ok {
			lines = append(lines, whole)
		}
	}
	return lines
}

func sameLine(a, b box) bool {
	small, large := min(a.h(), b.h()), max(a.h(), b.h())
	overlap := min(a.y1, b.y1) - max(a.y0, b.y0) + 1
	gap := max(a.x0, b.x0) - min(a.x1, b.x1) - 1
	return 2*overlap >= small && 5*small >= 2*large && 5*gap <= 6*large
}
