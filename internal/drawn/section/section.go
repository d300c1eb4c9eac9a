// Package section draws micrographs of cut crimps from polygons, with exact truth, in pure Go. Scenes are deterministic
// by their seed. Truth follows the definitions in DEVELOPERS.md, "What is measured", and comes from the polygons, never
// from pixels.
//
// Frame of the part: millimetres, x to the right, y up, y = 0 the floor's line and x = 0 the middle between the side
// walls at the floor. Frame of the picture: pixels, x right and y down, (0, 0) the centre of the top left pixel.
package section

// Scene is all that a micrograph is made from.
type Scene struct {
	Seed          int64 // textures, noise and the small irregularities
	Width, Height int   // px
	MMPerPX       float64
	TurnDeg       float64    // of the part in the picture, counterclockwise
	ShiftPX       [2]float64 // of the part's middle from the picture's
	Sleeve        Sleeve
	Fill          Fill
	Mirrored      bool      // left and right swapped
	Exact         *Geometry // drawn instead of Sleeve and Fill where set
	Look          Look
	Optics        Optics
	Scale         Scale
	Format        Format
	Declared      Declared
	Defects       []string // names of what was built in on purpose; for people only
	ExpectRetake  string   // why the picture must be refused; empty when it can be measured
	NoSection     bool     // only resin
}

// Sleeve is the cut crimp barrel. Lengths are millimetres.
type Sleeve struct {
	WidthMM      float64 // at the floor, from wall to wall
	SeamMM       float64 // x of the seam
	FloorMM      float64 // thickness of the floor in the middle
	FloorRiseMM  float64 // how much thicker it is at the walls
	FloorWaveMM  float64 // amplitude of a slight wave of its inner face
	RoughMM      float64 // amplitude of the imprints that strands leave in its inner face
	RoughSizeMM  float64 // and their size
	RoughSeed    uint64
	SeamBendMM   float64 // how far the seam bends sideways
	SeamLeanDeg  float64 // clockwise
	OpeningMM    float64 // between the wings where they are nearest; 0: they touch
	GapAboveMM   float64 // how far touching wings part at the seam's upper end
	ContactTopMM float64 // y at which touching wings begin to part upwards
	Left, Right  Half
	Crack        *Crack
}

// Half is the sleeve from its middle to one side: u counts from the seam outwards, y up from the floor.
type Half struct {
	LeanDeg      float64 // side wall: outwards at the top
	BowMM        float64 // and bulging
	WallMM       float64 // thickness of the wall, and of the roof
	RoofMM       float64
	CornerMM     float64 // radius of the outer corner at the floor
	InnerMM      float64 // and of the inner one
	HeightMM     float64 // top of the lobe
	TopAt        float64 // u of the top as a share of the half's width
	ShoulderMM   float64 // y at which the lobe begins at the wall
	OuterExp     float64 // roundness of the lobe to the wall and to the seam: superellipse, 2 is round, more is boxy
	SeamExp      float64
	SeamTopMM    float64 // y at which the lobe reaches the seam
	CurlFromMM   float64 // y below which the wing curls
	CurlPerMM    float64 // curvature of the wing's outer face below that, positive away from the seam
	CurlDeg      float64 // and no further than by this angle
	WingMM       float64 // length of the wing below that, without its rounded end
	SheetMM      float64 // thickness of the wing
	TipSheetMM   float64 // and at its tip
	Tip          Tip
	RoofRoundMM  float64 // radius of the cavity's upper corners
	TaperMM      float64 // how much further out the inner wall stands at the roof than at the floor
	RoofTiltMM   float64 // how much lower the roof is at the wall than at the wing
	WallWaveMM   float64 // amplitude of a slight wave of the inner wall
	WavePhase    float64
	Burr         *Burr
	TouchesWall  bool // the tip is pressed onto the wall
	TouchesFloor bool // or onto the floor
}

// Tip is the end of a wing.
type Tip struct {
	DepthMM float64 // how far it reaches past the straight faces
	Exp     float64 // superellipse: 2 is round, more is blunt
	Skew    float64 // 1 even; less: the lowest point nearer to the seam; more: nearer to the wall
}

// Burr is flash at an outer corner of the floor.
type Burr struct {
	HeightMM float64 // below the floor's line
	WidthMM  float64 // beyond the wall's line
	FootMM   float64 // how far up the wall and along the floor it begins
	Blunt    float64 // radius of its end as a share of its size, 0..1
}

// Crack is a thin jagged crack in the floor.
type Crack struct {
	AtMM, LengthMM, WidthMM float64
	LeanDeg                 float64 // from the upright
	FromBelow               bool
}

// Fill is what lies in the cavity.
type Fill struct {
	Strands  int     // in the sleeve
	Lost     int     // how many more the wire had
	Relax    int     // rounds in which the strands' sites move to the middle of their cells
	Uneven   float64 // relative spread of the strands' areas
	Round    float64 // radius to which strands are cut, relative to that of a circle of the cell's area; 0: not at all
	CornerMM float64 // mean length that is rounded off at a strand's corner
	Hollows  int     // real voids of about a third of a strand's size
	SlitMM   float64 // width of open slits between some strands
	Slits    float64 // share of the pairs that have one
	WavyMM   float64 // amplitude of waves of the strands' borders
	// Compaction is 1 - metal area / declared metal area; it sets the declared strand diameter.
	Compaction float64
}

// Declared is what a user may tell the program. Zero where not told.
type Declared struct {
	ConductorAreaMM2 float64
	StrandCount      int
	StrandDiameterMM float64
	SheetMM          float64
}

// Look is what the surface of the cut looks like. Colours are display values 0..1, red, green, blue.
type Look struct {
	Resin, Sleeve, Strand, Void, Tin [3]float64

	GrainMM     float64 // mean size of the sleeve's grains
	GrainTone   float64 // spread of their brightness
	GrainLine   float64 // darkness of their borders
	GrainAspect float64
	GrainDeg    float64
	Twins       float64 // share of grains with twin bands
	StrandGrain float64 // grains of the strands, relative to the sleeve's
	Etch        float64 // how strongly the grains of the strands show, relative to the sleeve's

	GrooveMM     float64 // half width of the dark groove along a strand's rim
	GrooveDark   float64
	GrooveFaint  float64 // share of the borders where the groove cannot be seen, 0..1
	RoundMM      float64 // width of the darkened edge of the sleeve
	RoundDark    float64
	ShadowDark   float64 // darkness of the resin close to the sleeve
	HaloBright   float64 // brightness of the resin close to the sleeve
	SeamMM       float64 // half width of the seam's dark line
	SeamDark     float64
	SeamFaint    float64 // share of the seam that cannot be seen
	PlatingMM    float64 // bright layer on the sleeve
	TinnedMM     float64 // bright layer on the strands
	StrandTone   float64 // spread of the strands' brightness
	StrandRelief float64 // brighter middle of a strand

	Clouds    float64 // slow brightness changes of the resin
	Fillers   int     // particles in it
	Bubbles   int
	Scratches int
	ScratchBy float64 // their strength
	Parallel  bool    // all scratches run about one way
	Stains    int
	Pits      int
	PitMM     float64
	Comets    int
	Dust      int
}

// Optics is what microscope and camera do to the picture.
type Optics struct {
	BlurPX    float64 // standard deviation
	BlurSide  float64 // how many times as large at one side of the picture; 0 or 1: the same
	SideDeg   float64 // where that side is
	Tilt      [2]float64
	Vignette  float64
	Middle    [2]float64 // of the vignette, relative to the picture's width
	Exposure  float64    // factor
	Gamma     float64    // of the camera's tone curve, 1: none
	Flare     float64    // share of the light that is spread widely
	Balance   [3]float64 // factors of the channels
	ShotNoise float64    // relative noise at full light
	ReadNoise float64
	Sharpen   float64
}

// Scale is how the picture tells its scale.
type Scale struct {
	BarUM        float64 // length of a drawn bar, micrometres; 0: none, the length per pixel is told
	Corner       int     // 0 lower right, 1 lower left, 2 upper left, 3 upper right
	Dark         bool
	Boxed, Ticks bool
	ThickPX      float64
	Text         string
	TextPX       float64
	Mono         bool // the text's font
	LengthPX     float64
}

// Format is how the picture is stored.
type Format struct {
	Kind    string // jpg, png or tif
	Grey    bool
	Bits    int // 8 or 16 (grey tif and png only)
	Quality int // of a JPEG
}
