package tag

import (
	"math"
	"slices"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/common"
	multi "github.com/makiuchi-d/gozxing/multi/qrcode/detector"
	"github.com/makiuchi-d/gozxing/qrcode/detector"

	"crimprule/vision/record"
)

// pixels is a grey picture as the decoder reads it.
type pixels struct {
	gozxing.LuminanceSourceBase
	pix []byte
}

func (p *pixels) GetRow(y int, _ []byte) ([]byte, error) {
	return p.pix[y*p.Width : (y+1)*p.Width], nil
}
func (p *pixels) GetMatrix() []byte               { return p.pix }
func (p *pixels) Invert() gozxing.LuminanceSource { return gozxing.NewInvertedLuminanceSource(p) }
func (p *pixels) String() string                  { return "" }

// Three finder patterns make a code where their modules are equally large and they stand in a right angle. The library's
// own limits (a tenth) are too narrow for a card that is tilted by 30 degrees, where one leg looks 13 % shorter, and more
// in perspective; a wrong trio is told by its modules later.
const (
	moduleApart = 0.35 // relative
	legsApart   = 0.35
	rightAngle  = 0.35 // cosine
	mostCentres = 40   // of the patterns that were met in most rows
	leastLeg    = 13.  // modules, centre to centre: version 1 has 14
	mostLeg     = 175.
)

// sightings lists the places of a grey picture that look like a code, with their text where they can be read. Places are
// the decoder's: (0, 0) is the corner of the top left pixel.
func sightings(pix []byte, w, h int) []sighting {
	matrix, err := gozxing.NewHybridBinarizer(&pixels{gozxing.LuminanceSourceBase{Width: w, Height: h}, pix}).GetBlackMatrix()
	if err != nil {
		return nil
	}
	finder := multi.NewMultiFinderPatternFinder(matrix, nil)
	// Without this hint the rows that are looked at lie too far apart for a small code. The finder's own choice of trios is
	// not used, only what they are chosen from.
	_, _ = finder.FindMulti(map[gozxing.DecodeHintType]interface{}{gozxing.DecodeHintType_TRY_HARDER: true})
	d := detector.NewDetector(matrix)
	var found []sighting
	for _, trio := range trios(finder.GetPossibleCenters()) {
		if s, ok := sight(d, trio); ok {
			found = append(found, s)
		}
	}
	return found
}

func trios(centres []*detector.FinderPattern) []*detector.FinderPatternInfo {
	centres = slices.DeleteFunc(slices.Clone(centres), func(p *detector.FinderPattern) bool { return p.GetCount() < 2 })
	slices.SortStableFunc(centres, func(a, b *detector.FinderPattern) int { return b.GetCount() - a.GetCount() })
	centres = centres[:min(len(centres), mostCentres)]
	var all []*detector.FinderPatternInfo
	for i, a := range centres {
		for j, b := range centres[:i] {
			for _, c := range centres[:j] {
				if info, ok := trio(a, b, c); ok {
					all = append(all, info)
				}
			}
		}
	}
	return all
}

func trio(a, b, c *detector.FinderPattern) (*detector.FinderPatternInfo, bool) {
	low := min(a.GetEstimatedModuleSize(), b.GetEstimatedModuleSize(), c.GetEstimatedModuleSize())
	high := max(a.GetEstimatedModuleSize(), b.GetEstimatedModuleSize(), c.GetEstimatedModuleSize())
	if high > low*(1+moduleApart) {
		return nil, false
	}
	bl, tl, tr := gozxing.ResultPoint_OrderBestPatterns(a, b, c)
	ux, uy := tr.GetX()-tl.GetX(), tr.GetY()-tl.GetY()
	vx, vy := bl.GetX()-tl.GetX(), bl.GetY()-tl.GetY()
	u, v := math.Hypot(ux, uy), math.Hypot(vx, vy)
	switch {
	case max(u, v) > min(u, v)*(1+legsApart), math.Abs(ux*vx+uy*vy) > rightAngle*u*v:
		return nil, false
	case min(u, v) < leastLeg*low, max(u, v) > mostLeg*high:
		return nil, false
	}
	return detector.NewFinderPatternInfo(bl.(*detector.FinderPattern), tl.(*detector.FinderPattern), tr.(*detector.FinderPattern)), true
}

// sight samples the modules that a trio spans and tells whether they are those of a code: by the alignment pattern that
// was found for the fourth corner and, in case that it was none, without it.
func sight(d *detector.Detector, trio *detector.FinderPatternInfo) (sighting, bool) {
	result, err := d.ProcessFinderPatternInfo(trio)
	if err != nil {
		return sighting{}, false
	}
	n := result.GetBits().GetWidth()
	var alignment *detector.AlignmentPattern
	if points := result.GetPoints(); len(points) > 3 {
		alignment, _ = points[3].(*detector.AlignmentPattern)
	}
	s := sighting{module: trio.GetTopLeft().GetEstimatedModuleSize()}
	seen := false
	for _, a := range []*detector.AlignmentPattern{alignment, nil} {
		t := detector.Detector_createTransform(trio.GetTopLeft(), trio.GetTopRight(), trio.GetBottomLeft(), a, n)
		bits, err := detector.Detector_sampleGrid(d.GetImage(), t, n)
		if err != nil {
			continue
		}
		like := likeCode(bits) // before the decoder changes the modules
		if s.text, s.read = decode(bits); s.read || like && !seen {
			s.outline, seen = outline(t, n), true
		}
		if s.read {
			break
		}
	}
	return s, seen
}

// outline gives the corners of the modules' square.
func outline(t *common.PerspectiveTransform, n int) []record.Point {
	side := float64(n)
	xy := []float64{0, 0, side, 0, side, side, 0, side}
	t.TransformPoints(xy)
	corners := make([]record.Point, 4)
	for i := range corners {
		corners[i] = record.Point{X: xy[2*i], Y: xy[2*i+1]}
	}
	return corners
}

// A code that cannot be decoded is told from a chance by what every code has (ISO/IEC 18004, 6.3): three finder patterns
// of known modules with a white separator, and two timing lines of alternating modules between them. By chance half of the
// modules agree; a soiled or blurred code keeps most.
const patternAlike, timingAlike = 0.85, 0.75

func likeCode(bits *gozxing.BitMatrix) bool {
	n := bits.GetWidth()
	if n < 21 || bits.GetHeight() != n {
		return false
	}
	for _, corner := range [][2]int{{0, 0}, {n - 8, 0}, {0, n - 8}} {
		right := 0
		for y := range 8 {
			for x := range 8 {
				if bits.Get(corner[0]+x, corner[1]+y) == finderModule(corner, x, y) {
					right++
				}
			}
		}
		if float64(right) < patternAlike*64 {
			return false
		}
	}
	right, all := 0, 0
	for i := 8; i < n-8; i++ {
		for _, black := range []bool{bits.Get(i, 6), bits.Get(6, i)} {
			if black == (i%2 == 0) {
				right++
			}
			all++
		}
	}
	return float64(right) >= timingAlike*float64(all)
}

// finderModule tells whether a module of a finder pattern with its separator is black. Its 8 x 8 modules begin at corner;
// the separator lies on the sides towards the code's middle.
func finderModule(corner [2]int, x, y int) bool {
	if corner[0] > 0 {
		x--
	}
	if corner[1] > 0 {
		y--
	}
	if x < 0 || y < 0 || x > 6 || y > 6 {
		return false
	}
	ring := min(x, y, 6-x, 6-y)
	return ring != 1
}
