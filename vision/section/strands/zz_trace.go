package strands

import (
	"fmt"
	"os"
)

func tr(f string, a ...any) {
	if os.Getenv("TRACE") != "" {
		fmt.Printf(f, a...)
	}
}
func (g *graph) n() (n int) {
	for _, q := range g.piece {
		if q != nil && g.counts(q) {
			n++
		}
	}
	return
}
func (g *graph) parts() (lone, step float64) {
	for i, q := range g.piece {
		if q != nil {
			lone += g.rule.lone(q)
			for j := range q.borders {
				if int32(i) < j {
					step += g.rule.step(q, g.piece[j])
				}
			}
		}
	}
	return
}
