package record

import "slices"

// Key names a measurand, in JSON and in the tolerances file.
type Key string

// The measurands of the photo views. Definitions: DEVELOPERS.md, "What is measured".
const (
	InsulationGapMean Key = "insulation_gap_mean"
	InsulationGapMax  Key = "insulation_gap_max"
	BrushMean         Key = "brush_mean"
	BrushMax          Key = "brush_max"
	BrushMin          Key = "brush_min"
	StrayCount        Key = "stray_count"
	StrayLongest      Key = "stray_longest"
	SleeveLength      Key = "sleeve_length"
	SleeveWidth       Key = "sleeve_width"
	Bend              Key = "bend"
	BellmouthLength   Key = "bellmouth_length"
	BellmouthFlare    Key = "bellmouth_flare"

	WingWidthLeft     Key = "wing_width_left"
	WingWidthRight    Key = "wing_width_right"
	Symmetry          Key = "symmetry"
	SeamOffset        Key = "seam_offset"
	SeamAngle         Key = "seam_angle"
	SeamOpeningMax    Key = "seam_opening_max"
	CompletenessLeft  Key = "completeness_left"
	CompletenessRight Key = "completeness_right"
	MissingLengthMax  Key = "missing_length_max"
	MissingDepthMax   Key = "missing_depth_max"
)

// The measurands of the stripped wire before crimping.
const (
	StripLength        Key = "strip_length"
	StrandEndSpread    Key = "strand_end_spread"
	CutStrands         Key = "cut_strands"
	Splay              Key = "splay"
	InsulationCutAngle Key = "insulation_cut_angle"
)

// The measurands of a section; Symmetry serves here too.
const (
	CrimpHeight             Key = "crimp_height"
	CrimpWidth              Key = "crimp_width"
	BurrHeightLeft          Key = "burr_height_left"
	BurrHeightRight         Key = "burr_height_right"
	BurrWidthLeft           Key = "burr_width_left"
	BurrWidthRight          Key = "burr_width_right"
	FloorThickness          Key = "floor_thickness"
	WingTipFloorLeft        Key = "wing_tip_floor_left"
	WingTipFloorRight       Key = "wing_tip_floor_right"
	WingTipHeightDifference Key = "wing_tip_height_difference"
	WingOpening             Key = "wing_opening"
	StrandCount             Key = "strand_count"
	ConductorArea           Key = "conductor_area"
	VoidRatio               Key = "void_ratio"
	Compaction              Key = "compaction"
)

// seamKeys in the order in which a person reads them.
var seamKeys = []Key{
	InsulationGapMean, InsulationGapMax, BrushMean, BrushMax, BrushMin, StrayCount, StrayLongest,
	WingWidthLeft, WingWidthRight, Symmetry, SeamOffset, SeamAngle, SeamOpeningMax,
	CompletenessLeft, CompletenessRight, MissingLengthMax, MissingDepthMax,
	SleeveLength, SleeveWidth, BellmouthLength, BellmouthFlare, Bend,
}

// sideKeys in the order in which a person reads them.
var sideKeys = []Key{
	InsulationGapMean, InsulationGapMax, BrushMean, BrushMax, BrushMin, StrayCount, StrayLongest,
	SleeveLength, SleeveWidth, BellmouthLength, BellmouthFlare, Bend,
}

// stripKeys in the order in which a person reads them.
var stripKeys = []Key{StripLength, StrandEndSpread, CutStrands, Splay, InsulationCutAngle}

// sectionKeys in the order in which a person reads them.
var sectionKeys = []Key{
	CrimpHeight, CrimpWidth, FloorThickness, BurrHeightLeft, BurrHeightRight, BurrWidthLeft, BurrWidthRight,
	WingTipFloorLeft, WingTipFloorRight, WingTipHeightDifference, WingOpening, Symmetry,
	StrandCount, ConductorArea, VoidRatio, Compaction,
}

// Keys lists the measurands that this version measures in a view, in the order in which a person reads them; nil for
// a view that it does not measure.
func Keys(view View) []Key {
	switch view {
	case Seam:
		return slices.Clone(seamKeys)
	case Side:
		return slices.Clone(sideKeys)
	case Strip:
		return slices.Clone(stripKeys)
	case Section:
		return slices.Clone(sectionKeys)
	}
	return nil
}

// Known tells whether key is a measurand of any view that this version measures.
func (k Key) Known() bool {
	return slices.Contains(seamKeys, k) || slices.Contains(stripKeys, k) || slices.Contains(sectionKeys, k)
}

// Unit is "mm", "mm2", "deg" or "1" (counts and ratios).
func (k Key) Unit() string {
	switch k {
	case StrayCount, Symmetry, CompletenessLeft, CompletenessRight, StrandCount, VoidRatio, Compaction, CutStrands, Splay:
		return "1"
	case ConductorArea:
		return "mm2"
	case Bend, SeamAngle, InsulationCutAngle:
		return "deg"
	}
	return "mm"
}
