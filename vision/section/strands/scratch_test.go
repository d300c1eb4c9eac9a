package strands

import "testing"

// TestGoesOn: a straight dark line is a scratch where it goes on beyond the border, and a border where it ends with it or bends.
func TestGoesOn(t *testing.T) {
	const w, h = 120, 60
	line := func(from, to int) *partition {
		p := &partition{f: &field{w: w, h: h}, evidence: make([]float32, w*h), label: make([]int32, w*h), g: &joint{owner: []int32{0}}, top: 1}
		for x := from; x < to; x++ {
			p.evidence[30*w+x] = 0.8
		}
		return p
	}
	var straight, bent [][2]float64
	for x := 40.; x < 80; x++ {
		straight = append(straight, [2]float64{x, 30})
		bent = append(bent, [2]float64{x, 30 + (x-60)*(x-60)/60})
	}
	for _, c := range []struct {
		name   string
		p      *partition
		points [][2]float64
		want   bool
	}{
		{"goes on", line(5, 80), straight, true},
		{"ends", line(40, 80), straight, false},
		{"bends", line(5, 115), bent, false},
		{"short", line(5, 115), straight[:15], false},
	} {
		if got := c.p.goesOn(c.points, 50); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
