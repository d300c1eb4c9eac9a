package section

// flow is a graph between a source and a sink, as a grid's cells with four neighbours each. Minimum cut by Dinic's
// method (1970): shortest ways from source to sink are filled until none is left.
type flow struct {
	w, h  int
	term  []int32    // capacity left from the source (positive) or to the sink (negative) of each cell
	cap   [4][]int32 // capacity left to the left, right, upper and lower neighbour
	level []int32
	next  []int8
	queue []int32
}

func newFlow(w, h int) *flow {
	f := &flow{w: w, h: h, term: make([]int32, w*h), level: make([]int32, w*h), next: make([]int8, w*h)}
	for d := range f.cap {
		f.cap[d] = make([]int32, w*h)
	}
	return f
}

// back is the direction that leads back.
var back = [4]int{1, 0, 3, 2}

// link joins a cell to its right (d = 1) or lower (d = 3) neighbour with the same capacity both ways.
func (f *flow) link(i, d int, c int32) {
	f.cap[d][i] = c
	f.cap[back[d]][f.neighbour(i, d)] = c
}

func (f *flow) neighbour(i, d int) int {
	switch d {
	case 0:
		return i - 1
	case 1:
		return i + 1
	case 2:
		return i - f.w
	}
	return i + f.w
}

// cut fills the graph and returns which cells stay on the source's side.
func (f *flow) cut() []bool {
	for f.reach() {
		for i := range f.next {
			f.next[i] = 0
		}
		for i, t := range f.term {
			for t > 0 {
				pushed := f.push(i, t)
				if pushed == 0 {
					break
				}
				f.term[i] -= pushed
				t = f.term[i]
			}
		}
	}
	side := make([]bool, len(f.term))
	for i, l := range f.level {
		side[i] = l > 0
	}
	return side
}

// reach numbers the cells by their distance from the source over what capacity is left; false where the sink is out of
// reach.
func (f *flow) reach() bool {
	q := f.queue[:0]
	for i := range f.level {
		f.level[i] = 0
		if f.term[i] > 0 {
			f.level[i] = 1
			q = append(q, int32(i))
		}
	}
	found := false
	for k := 0; k < len(q); k++ {
		i := int(q[k])
		if f.term[i] < 0 {
			found = true
		}
		for d := range 4 {
			if f.cap[d][i] > 0 {
				if j := f.neighbour(i, d); f.level[j] == 0 {
					f.level[j] = f.level[i] + 1
					q = append(q, int32(j))
				}
			}
		}
	}
	f.queue = q
	return found
}

// push sends up to amount from a cell towards the sink and returns how much arrived.
func (f *flow) push(i int, amount int32) int32 {
	if f.term[i] < 0 {
		n := min(amount, -f.term[i])
		f.term[i] += n
		return n
	}
	for ; f.next[i] < 4; f.next[i]++ {
		d := int(f.next[i])
		if f.cap[d][i] <= 0 {
			continue
		}
		j := f.neighbour(i, d)
		if f.level[j] != f.level[i]+1 {
			continue
		}
		if n := f.push(j, min(amount, f.cap[d][i])); n > 0 {
			f.cap[d][i] -= n
			f.cap[back[d]][j] += n
			return n
		}
	}
	return 0
}
