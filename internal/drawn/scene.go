// Package drawn makes photos of crimped contacts from geometry, with exact truth: a small ray marcher over signed
// distances, in pure Go. Scenes are deterministic by their seed. Truth follows the definitions in DEVELOPERS.md, "What
// is measured", and comes from the geometry, never from pixels.
//
// Part frame: x along the sleeve's axis from the wire to the body, 0 at the sleeve's rear edge; y to the left seen from
// above; z up, away from the card, 0 at the conductor's axis. World frame: the card is z = 0, z towards the camera.
// Lengths are millimetres, angles degrees.
package drawn

import (
	"math"

	"crimprule/vision/record"
)

// Scene is all that a picture is made from.
type Scene struct {
	Seed          int64       // textures, noise and the small irregularities of strands
	View          record.View // what is seen; empty: the seam view
	Width, Height int         // px
	Camera        Camera
	Ground        Ground
	Board         Board
	Rule          *Rule   // a scale reference instead of the board
	Disc          *Disc   // the same
	Things        []Thing // hands, tools
	Part          Part
	Second        *Part // one more part
	Light         Light
	Sensor        Sensor
	Coarse        bool     // fewer samples a pixel, for small pictures by the thousand
	Defects       []string // names of what was built in on purpose; for people only
	ExpectRetake  string   // why the picture must be refused; empty when it can be measured
}

// Wide gives the scene as a picture of that width, as if the full picture had been made smaller: blur and smear shrink with it and
// noise averages out. Truth in millimetres stays as it is.
func (s Scene) Wide(width int) Scene {
	k := float64(width) / float64(s.Width)
	s.Width, s.Height = width, int(math.Round(float64(s.Height)*k))
	s.Camera.FocalPX *= k
	s.Sensor.DefocusPX *= k
	s.Sensor.MotionPX *= k
	s.Sensor.Noise *= k
	s.Coarse = k < 0.75
	return s
}

// Ground is what the part lies on.
type Ground struct {
	Kind   string     // card, mat, cloth, concrete, wood, squared, print or bench
	Colour [3]float64 // linear RGB reflectance

	TurnDeg   float64 // direction of lines, text or grain
	PitchMM   float64 // of squares or lines of text
	Dirt      float64 // amount of stains and crumbs, 0..1
	Scratches float64 // the same of scratches
	Tapes     []Tape
}

// Tape is a strip of adhesive tape on the ground.
type Tape struct {
	CentreMM          [2]float64
	TurnDeg           float64
	LengthMM, WidthMM float64
	Colour            [3]float64
}

// Board is a printed chessboard. Cols and Rows count inner corners.
type Board struct {
	Cols, Rows int
	SquareMM   float64
	CentreMM   [2]float64
	TurnDeg    float64
	MarginMM   float64 // white paper around the outer squares
	HeightMM   float64 // the paper's upper face above the card; 0: printed on the card itself
	Ink, Paper float64 // reflectance
	None       bool    // no board in the picture
}

// Part is the crimped contact and its wire, with its pose on the card.
type Part struct {
	CentreMM [2]float64 // where the middle of the sleeve stands on the card
	AlphaDeg float64    // direction of the axis on the card, from the world's x to its y
	AxisMM   float64    // height of the conductor's axis above the card at the middle of the sleeve
	RollDeg  float64    // about the axis
	PitchDeg float64    // body's end down

	Wire   Wire
	Sleeve Sleeve
	Body   Body
	Brush  Brush
	Strays []Stray
	Metal  string  // brass, tin, silver or copper: sleeve and body
	Matt   float64 // share of light that sleeve and body throw back in all directions; 0: 0.12

	Grip  *Grip  // none: the contact ends with the sleeve's rear edge
	Strip *Strip // a stripped wire without a contact: no sleeve, body, brush or strays; x counts from the insulation's cut
}

// Strip is the bare end of a stripped wire. All its strands start inside the insulation and are as many as Wire.Strands says.
type Strip struct {
	LengthMM float64   // from the insulation's cut to where a strand of middle length ends
	SpreadMM float64   // between the longest and the shortest of the sound strands
	Splay    float64   // by how much the bundle widens towards its end, as a ratio
	Ruffled  float64   // how far single strands bend away from their lay, mm at the end
	Early    []float64 // how much earlier than LengthMM some strands end: the cut ones
}

// Wire is the insulated wire with its bare strands.
type Wire struct {
	InsulationDiameterMM float64
	Colour               [3]float64
	CurveMM              float64 // radius of the wire's curve, positive to the left; 0: straight
	CurveUp              bool    // the curve runs to the part's z instead of its y: the part lies on its side
	AreaMM2              float64 // nominal conductor area, only declared
	Strands              int
	StrandDiameterMM     float64
	StrandMetal          string
	StrandMatt           float64    // as Part.Matt; 0: 0.05
	LayMM                float64    // length of one turn of the outer strands, negative: the other way round
	GapMM                float64    // from the middle of the cut end to the sleeve's rear edge
	Print                [3]float64 // colour of letters printed along it; none where black
	CutSkewDeg           float64    // the cut's angle to the square, seen from above
	CutLeanDeg           float64    // the same, seen from the side: positive leans towards the sleeve at the top
	CutRippleMM          float64    // unevenness of the cut
}

// Sleeve is the crimp barrel: two rounded humps over straight side walls.
type Sleeve struct {
	LengthMM, WidthMM, HeightMM   float64
	SheetMM                       float64
	HumpRound                     float64 // radius of a hump's shoulders as a share of half the wing's width, 0.5..1
	SeamOffsetMM, SeamSlopeDeg    float64 // at the middle of the sleeve, positive to the left; towards the front
	SeamWanderMM                  float64 // slow waving of the seam
	OpeningMM, OpeningFrontMM     float64 // between the tip edges at the rear and at the front
	BellmouthMM, BellmouthFlareMM float64
	Notches                       []Notch
	Form                          string // FormOpen, FormTube, or empty: crimped
}

// Notch is a piece missing from a wing's tip edge.
type Notch struct {
	Left              bool
	AtMM              float64 // its middle along x
	LengthMM, DepthMM float64
}

// Body is the contact's body in front of the sleeve.
type Body struct {
	Socket                     bool
	NeckMM, RadiusMM, LengthMM float64
	BendDeg                    float64 // to the left positive
	RiseDeg                    float64 // upwards, towards the seam, positive
}

// Brush are the strand ends past the sleeve's front edge.
type Brush struct {
	MeanMM, SpreadMM float64
}

// Stray is a strand outside the sleeve: it leaves the conductor in the gap, or the brush at the front.
type Stray struct {
	Front      bool
	Left       bool
	Up         bool    // it leaves upwards or, not Left, downwards, to be seen from the part's side; RootDeg then counts from there
	Back       bool    // in the gap: it leans back over the insulation
	RootDeg    float64 // where it leaves the conductor, from its top to the side
	ReachMM    float64 // how far its tip stands beside the part's outline
	AlongMM    float64 // how far its tip lies along x from its root
	TipHeight  float64 // z of the tip
	DiameterMM float64
}

// Light is how the scene is lit.
type Light struct {
	Kind         string  // sun, flash, led, softbox, overcast or mixed
	AzimuthDeg   float64 // where the light stands
	ElevationDeg float64
	Warmth       float64 // -1 bluish .. 1 reddish
	Exposure     float64 // EV

	Tint     [3]float64 // colour of all light; none: white
	Fade     float64    // how the light falls off across the picture: natural logarithm per 50 mm
	FadeDeg  float64    // direction in which it falls off
	Blockers []Blocker  // things outside the picture whose shadows fall into it
}

// Sensor is what lens, sensor and file format do to the picture.
type Sensor struct {
	DefocusPX float64 // standard deviation of the blur
	MotionPX  float64 // length of the smear
	MotionDeg float64
	Noise     float64 // relative noise of a mid grey
	Sharpen   float64
	Vignette  float64 // darkening of the corners
	Quality   int     // JPEG
	Shot      int64   // one of several pictures of the same scene: each has noise of its own
}
