// Package record holds what one picture of a crimp yields: the measurands with their uncertainty, what could not be
// measured and why, the verdict, and the JSON form of all that. It is pure Go: whoever judges, stores or prints
// records needs no OpenCV.
package record

import (
	"maps"
	"math"
	"slices"

	"crimprule/vision/uncertainty"
)

// View says how the part was looked at.
type View string

// The views. Auto is a request only; a record always names the view that was measured.
const (
	Seam    View = "seam"    // square onto the seam
	Side    View = "side"    // along the sheet, at right angles to seam
	Section View = "section" // micrograph of a cut square to the axis
	Strip   View = "strip"   // the stripped wire before crimping
	Auto    View = "auto"
)

// NoScaleDeclared is how the reason of a refusal begins where the picture itself is not to blame: nobody said what its scale
// is.
const NoScaleDeclared = "no scale was declared"

// Value is one measured quantity. U is the expanded uncertainty (k = 2, about 95 %) in the value's own unit: "mm",
// "mm2", "deg" or "1". Budget is what U is made of, only where WithBudgets put it there.
type Value struct {
	Value  float64             `json:"value"`
	U      float64             `json:"u"`
	Unit   string              `json:"unit"`
	Budget []uncertainty.Share `json:"budget,omitempty"`
}

// Scale tells how pixels became millimetres. MMPerPX holds at the part, at the height of the conductor's axis; URel is
// the expanded relative uncertainty (k = 2) of a length there; TiltDeg is the angle between the optical axis and the
// card's normal, absent where the reference does not show it.
type Scale struct {
	Kind    string  `json:"kind"`
	MMPerPX float64 `json:"mm_per_px"`
	URel    float64 `json:"u_rel"`
	TiltDeg float64 `json:"tilt_deg,omitempty"`
}

// Declared is what the user says of the part. Zero means not declared. Lengths are millimetres, the area square
// millimetres.
type Declared struct {
	ConductorArea      float64 `json:"conductor_area,omitempty"`
	StrandCount        float64 `json:"strand_count,omitempty"`
	StrandDiameter     float64 `json:"strand_diameter,omitempty"`
	InsulationDiameter float64 `json:"insulation_diameter,omitempty"`
	SheetThickness     float64 `json:"sheet_thickness,omitempty"`
}

// Strand is one strand of a section. X and Y are its centroid in mm in the section's frame: x to the right from the
// middle of the sleeve, y up from the floor's line. Roundness is 4 pi area / perimeter² (1 for a circle); Neighbours
// counts the strands that it touches. Doubtful says that a part of its border could not be seen.
type Strand struct {
	X          float64 `json:"x_mm"`
	Y          float64 `json:"y_mm"`
	AreaMM2    float64 `json:"area_mm2"`
	Roundness  float64 `json:"roundness"`
	Neighbours int     `json:"neighbours"`
	Doubtful   bool    `json:"doubtful,omitempty"`
}

// Voids tells of the empty places between a section's strands; areas in mm², U is the expanded uncertainty of AreaMM2.
type Voids struct {
	Count      int     `json:"count"`
	AreaMM2    float64 `json:"area_mm2"`
	U          float64 `json:"u"`
	LargestMM2 float64 `json:"largest_mm2"`
}

// Crack is a crack in the sleeve's metal of a section. Where is "floor" or "sleeve"; the length, mm, follows the crack.
type Crack struct {
	Where    string  `json:"where"`
	LengthMM float64 `json:"length_mm"`
	U        float64 `json:"u"`
}

// CompactionReference is the metal area of the uncrimped wire that compaction is held against, and where it is from.
type CompactionReference struct {
	AreaMM2 float64 `json:"area_mm2"`
	From    string  `json:"from"`
}

// Result is the outcome of judging a feature or a whole crimp.
type Result string

// The four outcomes; see the decision rule in package verdict.
const (
	Conforms       Result = "conforms"
	DoesNotConform Result = "does_not_conform"
	NotProven      Result = "not_proven"
	NotMeasured    Result = "not_measured"
)

// badness orders the results from best to worst. Of a feature that was not measured less is known than of one that is
// not proven, so it is the worse of the two; one that is proven bad is worst of all.
var badness = map[Result]int{Conforms: 0, NotProven: 1, NotMeasured: 2, DoesNotConform: 3}

// Worse tells whether r is worse than another result.
func (r Result) Worse(than Result) bool { return badness[r] > badness[than] }

// Advice says in words of the trade what a failed or doubtful feature means and what to do.
type Advice struct {
	Means  string   `json:"means"`
	Causes []string `json:"causes,omitempty"`
	Do     string   `json:"do"`
}

// Feature is the judgement of one measurand against its limits. Probability is that of the true value lying within
// the limits; it, Value and U are absent when the feature was not measured (then Reason says why). Reason also says it
// where a feature is not proven since no value at all would be with such an uncertainty.
type Feature struct {
	Key         Key      `json:"key"`
	Result      Result   `json:"result"`
	Value       *float64 `json:"value,omitempty"`
	U           *float64 `json:"u,omitempty"`
	Unit        string   `json:"unit,omitempty"`
	Min         *float64 `json:"min,omitempty"`
	Max         *float64 `json:"max,omitempty"`
	Aim         *float64 `json:"aim,omitempty"`
	Probability *float64 `json:"probability,omitempty"`
	Score       *float64 `json:"score,omitempty"`
	Reason      string   `json:"reason,omitempty"`
	Note        string   `json:"note,omitempty"`
	Advice      *Advice  `json:"advice,omitempty"`
}

// Verdict is the judgement of a crimp: as good as its worst feature. Score is 0..100.
type Verdict struct {
	Result     Result    `json:"result"`
	Score      float64   `json:"score"`
	Tolerances string    `json:"tolerances,omitempty"`
	Features   []Feature `json:"features"`
}

// Record is what one picture yields. Where Retake is not empty the picture could not be measured: Measured is empty
// then and nothing is judged.
type Record struct {
	Image      string             `json:"image"`
	SHA256     string             `json:"sha256"`
	View       View               `json:"view"`
	Tag        string             `json:"tag,omitempty"`    // which part it is, as the QR code in the picture says
	Taken      string             `json:"taken,omitempty"`  // RFC 3339 where the zone is known, else without zone
	Camera     string             `json:"camera,omitempty"` // make and model as the picture's metadata say
	Scale      *Scale             `json:"scale,omitempty"`
	Measured   map[Key]Value      `json:"measured"`
	Unmeasured map[Key]string     `json:"unmeasured"`
	Verdict    *Verdict           `json:"verdict,omitempty"`
	Quality    map[string]float64 `json:"quality"`
	Retake     []string           `json:"retake"`

	// Of a section only. Strands is the list that --details asks for.
	Voids               *Voids               `json:"voids,omitempty"`
	Cracks              []Crack              `json:"cracks,omitempty"`
	CompactionReference *CompactionReference `json:"compaction_reference,omitempty"`
	Strands             []Strand             `json:"strands,omitempty"`
	// Notes are remarks that bear on how the values are to be read, such as "lost strands: 2".
	Notes []string `json:"notes,omitempty"`

	// Budgets are what the values' u are made of; they are part of the record's JSON where WithBudgets asks for it.
	Budgets map[Key]uncertainty.Budget `json:"-"`
	// Marks are where things were measured, for drawing; they are not part of the record's JSON.
	Marks []Mark `json:"-"`
}

// MarkKind says what a mark shows, and so how it is drawn.
type MarkKind string

// The kinds of marks.
const (
	MarkEdge   MarkKind = "edge"   // an edge that was fitted: a polyline
	MarkScan   MarkKind = "scan"   // one scan line, from end to end
	MarkLength MarkKind = "length" // a measured length with its value: two points
	MarkStray  MarkKind = "stray"  // a stray strand from root to tip: a polyline
	MarkCut    MarkKind = "cut"    // a strand that ends early: from its end to where the others end
	MarkAxis   MarkKind = "axis"   // an axis: two points
	MarkMiss   MarkKind = "miss"   // a missing piece: a polyline round it
	MarkScale  MarkKind = "scale"  // the scale reference: its corner points

	// Of a section.
	MarkSleeve MarkKind = "sleeve" // the sleeve's outer outline: a closed polygon
	MarkCavity MarkKind = "cavity" // the cavity's outline: a closed polygon
	MarkStrand MarkKind = "strand" // a strand's outline: a closed polygon; Size is its area, mm²
	MarkVoid   MarkKind = "void"   // a void's outline: a closed polygon; Size is its area, mm²
	MarkCrack  MarkKind = "crack"  // a crack: a polyline
	MarkFloor  MarkKind = "floor"  // the floor's line: two points, left and right
	MarkTip    MarkKind = "tip"    // a wing's tip: one point
)

// Mark is something to draw: points in pixels of the upright picture ((0,0) is the centre of the top left pixel) and
// the key of the measurand that it belongs to, empty where it belongs to none.
type Mark struct {
	Kind   MarkKind
	Key    Key
	Points []Point
	Size   float64 // see the kind
	// Doubtful says that a part of what was drawn round could not be seen; of a strand only.
	Doubtful bool
}

// Point is a place in the picture, in pixels, x right and y down.
type Point struct{ X, Y float64 }

// New returns an empty record of a view, ready to be filled.
func New(view View) Record {
	return Record{View: view, Measured: map[Key]Value{}, Unmeasured: map[Key]string{}, Quality: map[string]float64{}, Retake: []string{}}
}

// Set notes a measured value whose expanded uncertainty comes from no budget; the unit is that of the key.
func (r *Record) Set(key Key, value, u float64) {
	r.Measured[key] = Value{Value: value, U: u, Unit: key.Unit()}
	delete(r.Unmeasured, key)
	delete(r.Budgets, key)
}

// SetBudget notes a measured value whose expanded uncertainty is that of the budget, and keeps the budget.
func (r *Record) SetBudget(key Key, value float64, budget uncertainty.Budget) {
	r.Set(key, value, budget.Expanded())
	if r.Budgets == nil {
		r.Budgets = map[Key]uncertainty.Budget{}
	}
	r.Budgets[key] = slices.Clone(budget)
}

// WithBudgets is the record with each value's budget in its JSON.
func (r Record) WithBudgets() Record {
	r.Measured = maps.Clone(r.Measured)
	for key, v := range r.Measured {
		v.Budget = r.Budgets[key].Shares()
		r.Measured[key] = v
	}
	return r
}

// Note puts a figure of the picture's quality into the record, rounded to so many decimals: it is no measurand.
func (r *Record) Note(key string, value float64, digits int) {
	p := math.Pow10(digits)
	r.Quality[key] = math.Round(value*p) / p
}

// Miss notes why a value could not be had. It never overrides a value that is there, nor the reason that was noted first.
func (r *Record) Miss(key Key, reason string) {
	if _, ok := r.Measured[key]; ok {
		return
	}
	if _, ok := r.Unmeasured[key]; !ok {
		r.Unmeasured[key] = reason
	}
}

// Refuse turns the record into a refusal: reasons in words for the person with the camera. All values go.
func (r *Record) Refuse(reasons ...string) {
	r.Retake = append(r.Retake, reasons...)
	r.Measured, r.Unmeasured, r.Budgets = map[Key]Value{}, map[Key]string{}, nil
	r.Voids, r.Cracks, r.CompactionReference, r.Strands = nil, nil, nil, nil
}
