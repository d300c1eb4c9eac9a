package section

import (
	"fmt"
	"math"
	"slices"

	"crimprule/vision/record"
	"crimprule/vision/scale"
	"crimprule/vision/section/raster"
	"crimprule/vision/section/shape"
	"crimprule/vision/section/strands"
	"crimprule/vision/uncertainty"
)

// sides adds to the symmetry's u what the two halves of the cavity's border do not share: the place of a border is known
// to inner (standard, mm) on each side by itself, and the half's area follows with its length.
func sides(f shape.Found, inner float64) float64 {
	relative := func(pieces [][]raster.Point, area float64) float64 {
		length := 0.
		for _, p := range pieces {
			length += raster.Length(p)
		}
		if area <= 0 {
			return 0
		}
		return inner * length / area
	}
	return math.Hypot(relative(f.CavityLeft, f.AreaLeft), relative(f.CavityRight, f.AreaRight)) * f.Values[record.Symmetry].Value
}

// lengths puts what the polygons gave into the record, with the scale's share of the uncertainty.
func lengths(f shape.Found, sc scale.Micro, inner float64, place func(raster.Point) record.Point, rec *record.Record) {
	for key, val := range f.Values {
		if val.Missing != "" {
			rec.Miss(key, val.Missing)
			continue
		}
		budget := slices.Clone(val.Budget)
		if key.Unit() == "mm" {
			budget = append(budget, uncertainty.Component{Name: "scale", Source: "the picture's " + sc.Kind + " scale",
				Standard: math.Abs(val.Value) * sc.RelU})
		}
		if key == record.Symmetry {
			budget = append(budget, uncertainty.Component{Name: "edge", Source: "borders of the two halves, each by itself", Standard: sides(f, inner)})
		}
		rec.SetBudget(key, val.Value, budget)
		if key.Unit() == "mm" && val.From != val.To {
			rec.Marks = append(rec.Marks, record.Mark{Kind: record.MarkLength, Key: key,
				Points: []record.Point{place(val.From), place(val.To)}})
		}
	}
	rec.Marks = append(rec.Marks,
		record.Mark{Kind: record.MarkFloor, Points: []record.Point{place(f.FloorLine[0]), place(f.FloorLine[1])}})
	for key, tip := range map[record.Key]raster.Point{record.WingTipFloorLeft: f.TipLeft, record.WingTipFloorRight: f.TipRight} {
		if _, ok := rec.Measured[key]; ok {
			rec.Marks = append(rec.Marks, record.Mark{Kind: record.MarkTip, Key: key, Points: []record.Point{place(tip)}})
		}
	}
}

// conductor is what the cavity holds, in mm and mm²; u's are expanded.
type conductor struct {
	cavity, uCavity float64 // area
	void, uVoid     float64
	count, uCount   float64
}

// A crimp's strands keep most of the wire's metal: less or more than this is a mistake somewhere (common practice, no
// source: handbooks give 10 to 25 % of compaction).
const (
	leastShare = 0.6
	mostShare  = 1.1
	leastFloor = 0.3 // of the sheet's thickness
	mostFloor  = 1.3
)

// areas puts conductor area, void ratio and compaction into the record.
//
// The conductor's area is the cavity's less the voids'. Its u is that of the cavity's border, all along and to one side,
// of the voids, and twice that of the scale. The void ratio is void / cavity. Compaction is held against the declared metal area,
// else against the declared or counted strands times the area of one round strand.
func areas(c conductor, sc scale.Micro, d record.Declared, rec *record.Record) {
	area := c.cavity - c.void
	const k = uncertainty.CoverageFactor
	edge := uncertainty.Component{Name: "edge", Source: "place of the cavity's border, all along and to one side", Standard: c.uCavity / k}
	voids := uncertainty.Component{Name: "voids", Source: "where voids end, and which dark lines are grooves", Standard: c.uVoid / k}
	metal := uncertainty.Budget{edge, voids, {Name: "scale", Source: "the picture's " + sc.Kind + " scale, twice for an area", Standard: 2 * sc.RelU * area}}
	rec.SetBudget(record.ConductorArea, area, metal)
	ratio := c.void / c.cavity
	rec.SetBudget(record.VoidRatio, ratio, append(uncertainty.Budget{voids}.Scaled(1/c.cavity), uncertainty.Budget{edge}.Scaled(ratio/c.cavity)...))
	ref, uRef := reference(c, d)
	if ref == nil {
		rec.Miss(record.Compaction, "the wire's metal area is not known: declare conductor_area, or strand_diameter")
		return
	}
	rec.CompactionReference = ref
	if share := area / ref.AreaMM2; share < leastShare || share > mostShare {
		rec.Notes = append(rec.Notes, fmt.Sprintf("the strands' metal is %.0f %% of what the wire should have: check what was declared, the scale, and in the drawing what was taken for strands",
			100*share))
	}
	rec.SetBudget(record.Compaction, 1-area/ref.AreaMM2, append(metal.Scaled(1/ref.AreaMM2),
		uncertainty.Component{Name: "reference", Source: "number of strands counted", Standard: area / ref.AreaMM2 * uRef / k}))
}

// reference is the metal area of the uncrimped wire, and its expanded relative u.
func reference(c conductor, d record.Declared) (*record.CompactionReference, float64) {
	if d.ConductorArea > 0 {
		return &record.CompactionReference{AreaMM2: d.ConductorArea, From: "declared conductor_area"}, 0
	}
	if d.StrandDiameter <= 0 {
		return nil, 0
	}
	one := math.Pi / 4 * d.StrandDiameter * d.StrandDiameter
	if d.StrandCount > 0 {
		return &record.CompactionReference{AreaMM2: d.StrandCount * one,
			From: fmt.Sprintf("declared strand_count %.0f times a round strand of %g mm", d.StrandCount, d.StrandDiameter)}, 0
	}
	if c.count <= 0 {
		return nil, 0
	}
	return &record.CompactionReference{AreaMM2: c.count * one,
		From: fmt.Sprintf("%.0f strands counted times a round strand of %g mm", c.count, d.StrandDiameter)}, c.uCount / c.count
}

func square(x float64) float64 { return x * x }

// checkDeclared holds what was seen against what was declared. It changes no value.
func checkDeclared(c conductor, d record.Declared, rec *record.Record) {
	if d.StrandCount <= 0 {
		return
	}
	lost := d.StrandCount - c.count
	switch {
	case lost == 0:
	case math.Abs(lost) <= c.uCount:
		rec.Notes = append(rec.Notes, fmt.Sprintf("%.0f strands are declared, %.0f ± %.0f were counted: some borders could not be seen",
			d.StrandCount, c.count, c.uCount))
	case lost > 0 && c.uCount > 0:
		rec.Notes = append(rec.Notes, fmt.Sprintf("lost strands: %.0f to %.0f (declared %.0f, counted %.0f ± %.0f)", math.Max(lost-c.uCount, 1), lost+c.uCount,
			d.StrandCount, c.count, c.uCount))
	case lost > 0:
		rec.Notes = append(rec.Notes, fmt.Sprintf("lost strands: %.0f (declared %.0f, counted %.0f)", lost, d.StrandCount, c.count))
	default:
		rec.Notes = append(rec.Notes, fmt.Sprintf("%.0f strands more than declared (declared %.0f, counted %.0f): check the wire or the declaration",
			-lost, d.StrandCount, c.count))
	}
}

// checkSheet holds the floor against the declared sheet: a crimp thins it, and never makes it thicker.
func checkSheet(d record.Declared, rec *record.Record) {
	floor, ok := rec.Measured[record.FloorThickness]
	if !ok || d.SheetThickness <= 0 {
		return
	}
	if share := floor.Value / d.SheetThickness; share < leastFloor || share > mostFloor {
		rec.Notes = append(rec.Notes, fmt.Sprintf("the floor is %.2f mm thick, the declared sheet %g mm: check the declaration and the scale", floor.Value, d.SheetThickness))
	}
}

// listStrands brings the strands into the section's frame; mm gives a place in it.
func listStrands(found strands.Found, mmPerPX float64, mm func(raster.Point) raster.Point, rec *record.Record) {
	for _, s := range found.Strands {
		p := mm(raster.Point{X: s.X, Y: s.Y})
		rec.Strands = append(rec.Strands, record.Strand{X: p.X, Y: p.Y, AreaMM2: s.AreaPX * mmPerPX * mmPerPX,
			Roundness: s.Roundness, Neighbours: s.Neighbours, Doubtful: s.Doubtful})
	}
}
