package strands

import (
	"fmt"
	"slices"
	"sort"
)

// errs names the true strands that were missed, fused or cut: where they lie, and their size in medians.
func errs(found Found, s sidecar, x0, y0 int, in Input) string {
	w, h := in.Cavity.W, in.Cavity.H
	lab := func(polys [][][2]float64, ox, oy float64) []int {
		l := make([]int, w*h)
		for k, o := range polys {
			for y := range h {
				var xs []float64
				yy := float64(y) + oy
				for i, a := range o {
					b := o[(i+1)%len(o)]
					if (a[1] <= yy) != (b[1] <= yy) {
						xs = append(xs, a[0]+(yy-a[1])/(b[1]-a[1])*(b[0]-a[0])-ox)
					}
				}
				sort.Float64s(xs)
				for i := 0; i+1 < len(xs); i += 2 {
					for x := max(int(xs[i])+1, 0); x <= int(xs[i+1]) && x < w; x++ {
						l[y*w+x] = k + 1
					}
				}
			}
		}
		return l
	}
	tr := lab(s.Aid.Outlines, float64(x0), float64(y0))
	var fo [][][2]float64
	for _, q := range found.Strands {
		var o [][2]float64
		for _, p := range q.Outline {
			o = append(o, [2]float64{p.X, p.Y})
		}
		fo = append(fo, o)
	}
	fl := lab(fo, 0, 0)
	nt, nf := len(s.Aid.Outlines), len(fo)
	ov := map[[2]int]int{}
	ta, fa := make([]int, nt+1), make([]int, nf+1)
	cx, cy := make([]int, nt+1), make([]int, nt+1)
	for i := range tr {
		ta[tr[i]]++
		fa[fl[i]]++
		cx[tr[i]] += i % w
		cy[tr[i]] += i / w
		if tr[i] > 0 && fl[i] > 0 {
			ov[[2]int{tr[i], fl[i]}]++
		}
	}
	sz := slices.Clone(ta[1:])
	slices.Sort(sz)
	med := float64(sz[len(sz)/2])
	out := ""
	for t := 1; t <= nt; t++ {
		best := 0
		for f := 1; f <= nf; f++ {
			best = max(best, ov[[2]int{t, f}])
		}
		if best*3 < ta[t] {
			out += fmt.Sprintf("   missed (%d,%d %.2f)\n", cx[t]/ta[t], cy[t]/ta[t], float64(ta[t])/med)
		}
	}
	for f := 1; f <= nf; f++ {
		var in []int
		for t := 1; t <= nt; t++ {
			if o := ov[[2]int{t, f}]; o*2 > ta[t] {
				in = append(in, t)
			}
		}
		if len(in) > 1 {
			out += "   fused"
			for _, t := range in {
				out += fmt.Sprintf(" (%d,%d %.2f)", cx[t]/ta[t], cy[t]/ta[t], float64(ta[t])/med)
			}
			out += "\n"
		}
		if len(in) == 0 {
			best, t := 0, 0
			for k := 1; k <= nt; k++ {
				if o := ov[[2]int{k, f}]; o > best {
					best, t = o, k
				}
			}
			if t > 0 {
				out += fmt.Sprintf("   extra in (%d,%d %.2f) of %.2f\n", cx[t]/ta[t], cy[t]/ta[t], float64(ta[t])/med, float64(fa[f])/med)
			}
		}
	}
	return out
}
