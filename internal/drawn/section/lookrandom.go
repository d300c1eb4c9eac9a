package section

// look throws the surface.
func (d dice) look(s *Scene) Look {
	tint := func(v float64, c [3]float64) [3]float64 {
		for i := range c {
			c[i] = clamp(v*c[i]*d.between(0.97, 1.03), 0, 1)
		}
		return c
	}
	l := Look{Tin: tint(0.89, [3]float64{1, 1, 0.98})}
	switch d.IntN(10) {
	case 0, 1, 2:
		l.Resin = tint(d.between(0.1, 0.2), [3]float64{1, 1, 1.04})
	case 3, 4, 5:
		l.Resin = tint(d.between(0.24, 0.42), [3]float64{1, 1, 0.97})
	case 6:
		l.Resin = tint(d.between(0.42, 0.56), [3]float64{1, 0.98, 0.9})
	case 7, 8:
		hues := [][3]float64{{1.15, 0.95, 0.7}, {0.8, 1, 1.2}, {0.85, 1.05, 0.85}, {1.2, 0.85, 0.8}}
		l.Resin = tint(d.between(0.15, 0.45), hues[d.IntN(len(hues))])
	default:
		l.Resin = tint(d.between(0.56, 0.66), [3]float64{1.02, 1, 0.95})
	}
	metals := [][3]float64{{1, 0.94, 0.88}, {1, 1, 0.99}, {1.04, 0.93, 0.72}, {1.05, 0.85, 0.62}, {1.06, 0.82, 0.66}, {1.1, 0.78, 0.6}}
	l.Sleeve = tint(d.between(0.74, 0.9), metals[d.IntN(len(metals))])
	coppers := [][3]float64{{1.12, 0.7, 0.52}, {1.1, 0.74, 0.58}, {1.08, 0.78, 0.62}, {1.1, 0.66, 0.5}, {1, 0.97, 0.93}}
	l.Strand = tint(d.between(0.62, 0.86), coppers[d.IntN(len(coppers))])
	l.Void = tint(d.between(0.03, 0.11), [3]float64{1.1, 1, 0.95})
	if d.chance(0.3) {
		for i := range l.Void {
			l.Void[i] = l.Resin[i] * d.between(0.5, 0.85)
		}
	}
	l.GrainMM, l.GrainAspect, l.GrainDeg = d.between(0.01, 0.035), d.between(1, 2.2), d.between(0, 180)
	etch := d.between(0.1, 1)
	l.GrainTone, l.GrainLine, l.Twins = 0.075*etch, 0.16*etch*d.Float64(), d.between(0, 0.4)
	l.StrandGrain, l.Etch = d.between(0.5, 1.3), d.between(0.5, 1.3)
	l.GrooveMM, l.GrooveDark = d.between(0.0014, 0.0045), d.between(0.45, 0.95)
	l.RoundMM, l.RoundDark = d.between(0.002, 0.008), d.between(0.1, 0.55)
	if d.chance(0.5) {
		l.ShadowDark = d.between(0.1, 0.6)
	}
	if d.chance(0.4) {
		l.HaloBright = d.between(0.1, 0.8)
	}
	l.SeamMM, l.SeamDark, l.SeamFaint = d.between(0.0022, 0.006), d.between(0.5, 0.95), d.between(0, 0.4)
	if d.chance(0.35) {
		l.PlatingMM = d.between(0.003, 0.008)
	}
	if d.chance(0.35) {
		l.TinnedMM = d.between(0.0015, 0.004)
	}
	l.StrandTone, l.StrandRelief = d.between(0.01, 0.07), d.between(0, 0.06)
	for _, what := range s.Defects {
		if what == "over_compaction" {
			l.GrooveFaint = d.between(0.25, 0.6)
		}
	}
	if l.GrooveFaint == 0 && d.chance(0.4) {
		l.GrooveFaint = d.between(0.05, 0.25)
	}
	d.dirt(&l)
	return l
}

// dirt throws what preparation leaves.
func (d dice) dirt(l *Look) {
	l.Clouds = d.between(0.02, 0.14)
	if d.chance(0.3) {
		l.Fillers = 200 + d.IntN(1300)
	}
	if d.chance(0.5) {
		l.Bubbles = 1 + d.IntN(5)
	}
	l.Scratches, l.ScratchBy, l.Parallel = d.IntN(90), d.between(0.4, 1.5), d.chance(0.4)
	l.Stains = max(0, d.IntN(5)-2)
	l.Pits, l.PitMM = 20+d.IntN(230), d.between(0.0015, 0.004)
	if d.chance(0.4) {
		l.Comets = 1 + d.IntN(9)
	}
	l.Dust = d.IntN(8)
}
