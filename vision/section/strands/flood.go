package strands

// levels is how finely heights are told apart in a flood.
const levels = 64

// flood parts the marked pixels into the basins of a landscape: watershed by priority flood from the regional minima
// (F. Meyer 1991), with a queue per level. It returns each pixel's basin, -1 where not marked, and the number of
// basins. Heights run from 0 to 1.
func flood(height []float32, in []bool, w, h int) ([]int32, int) {
	q := make([]uint8, w*h)
	for i, v := range height {
		q[i] = uint8(min(max(v, 0), 0.9999) * levels)
	}
	label := make([]int32, w*h)
	for i := range label {
		label[i] = -1
	}
	n := minima(q, in, w, h, label)
	var queue [levels][]int32
	queued := make([]bool, w*h)
	push := func(i int32, at uint8) {
		if in[i] && label[i] < 0 && !queued[i] {
			queued[i] = true
			l := max(q[i], at)
			queue[l] = append(queue[l], i)
		}
	}
	around := func(i int32, at uint8) {
		x, y := int(i)%w, int(i)/w
		if x > 0 {
			push(i-1, at)
		}
		if x < w-1 {
			push(i+1, at)
		}
		if y > 0 {
			push(i-int32(w), at)
		}
		if y < h-1 {
			push(i+int32(w), at)
		}
	}
	for i := range label {
		if label[i] >= 0 {
			around(int32(i), q[i])
		}
	}
	for l := range queue {
		for k := 0; k < len(queue[l]); k++ {
			i := queue[l][k]
			label[i] = nearest(label, i, w, h)
			around(i, uint8(l))
		}
	}
	return label, n
}

// nearest is the label of the first labelled neighbour of a pixel.
func nearest(label []int32, i int32, w, h int) int32 {
	x, y := int(i)%w, int(i)/w
	if x > 0 && label[i-1] >= 0 {
		return label[i-1]
	}
	if y > 0 && label[int(i)-w] >= 0 {
		return label[int(i)-w]
	}
	if x < w-1 && label[i+1] >= 0 {
		return label[i+1]
	}
	if y < h-1 && label[int(i)+w] >= 0 {
		return label[int(i)+w]
	}
	return -1
}

// minima labels the plateaus that have no lower neighbour.
func minima(q []uint8, in []bool, w, h int, label []int32) int {
	seen := make([]bool, w*h)
	var stack, plateau []int32
	n := 0
	for start := range q {
		if !in[start] || seen[start] {
			continue
		}
		lowest := true
		stack, plateau = append(stack[:0], int32(start)), plateau[:0]
		seen[start] = true
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			plateau = append(plateau, i)
			x, y := int(i)%w, int(i)/w
			for _, s := range [4][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
				nx, ny := x+s[0], y+s[1]
				if nx < 0 || ny < 0 || nx >= w || ny >= h {
					continue
				}
				j := int32(ny*w + nx)
				switch {
				case !in[j]:
				case q[j] < q[i]:
					lowest = false
				case q[j] == q[i] && !seen[j]:
					seen[j] = true
					stack = append(stack, j)
				}
			}
		}
		if lowest {
			for _, i := range plateau {
				label[i] = int32(n)
			}
			n++
		}
	}
	return n
}
