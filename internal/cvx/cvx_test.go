package cvx

import (
	"image"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

func TestAThrownExceptionArrivesAsAnError(t *testing.T) {
	err := throw("the roof\nis wet")
	var thrown *Error
	require.ErrorAs(t, err, &thrown)
	assert.Equal(t, "throw", thrown.Op)
	assert.Contains(t, thrown.Text, "is wet", "OpenCV's own words")
	assert.NotContains(t, thrown.Text, "\n")
}

// Each of these calls made OpenCV throw, or would read what is not there; none may end the process.
func TestNoCallEndsTheProcess(t *testing.T) {
	empty, grey, colour, out := gocv.NewMat(), filled(40, 30, gocv.MatTypeCV8UC1), filled(40, 30, gocv.MatTypeCV8UC3),
		gocv.NewMat()
	defer closeAll(t, &empty, &grey, &colour, &out)
	var closed gocv.Mat
	size, black := image.Pt(10, 10), color.RGBA{}
	for name, err := range map[string]error{
		"colour of an empty Mat":     CvtColor(empty, &out, gocv.ColorBGRToGray),
		"colour of a closed Mat":     CvtColor(closed, &out, gocv.ColorBGRToGray),
		"into a closed Mat":          CvtColor(colour, &closed, gocv.ColorBGRToGray),
		"into no Mat":                CvtColor(colour, nil, gocv.ColorBGRToGray),
		"grey taken for colour":      CvtColor(grey, &out, gocv.ColorBGRToGray),
		"depth of an empty Mat":      ConvertTo(empty, &out, gocv.MatTypeCV8U, 1, 0),
		"alpha that is not there":    OverWhite(colour, &out, false),
		"transposing an empty Mat":   Transpose(empty, &out),
		"flipping a closed Mat":      Flip(closed, &out, 1),
		"resizing an empty Mat":      Resize(empty, &out, size, gocv.InterpolationLinear),
		"resizing to nothing":        Resize(grey, &out, image.Pt(0, 10), gocv.InterpolationLinear),
		"resizing beyond memory":     Resize(grey, &out, image.Pt(1<<30, 1<<30), gocv.InterpolationLinear),
		"unknown interpolation":      Resize(grey, &out, size, 77),
		"remap with a map of bytes":  Remap(grey, &out, colour, empty, gocv.InterpolationLinear, gocv.BorderConstant, black),
		"warp with a bad matrix":     WarpAffine(grey, &out, grey, size, gocv.InterpolationLinear, gocv.BorderConstant, black),
		"homography of bytes":        WarpPerspective(grey, &out, grey, size, gocv.InterpolationLinear, 0, black),
		"blur with an even window":   GaussianBlur(grey, &out, image.Pt(4, 4), 1, 1, gocv.BorderDefault),
		"corner outside the picture": CornerSubPix(grey, []gocv.Point2f{{X: 500, Y: 2}}, 3, -1, 10, 0.01),
		"corner that is no number":   CornerSubPix(grey, []gocv.Point2f{{X: float32(math.NaN())}}, 3, -1, 10, 0.01),
		"corners in colour":          CornerSubPix(colour, []gocv.Point2f{{X: 20, Y: 15}}, 3, -1, 10, 0.01),
		"corners in an empty Mat":    CornerSubPix(empty, []gocv.Point2f{{X: 20, Y: 15}}, 3, -1, 10, 0.01),
	} {
		var thrown *Error
		assert.ErrorAs(t, err, &thrown, name)
		if thrown != nil {
			assert.NotContains(t, thrown.Error(), "\n", name)
		}
	}
	for _, board := range [][2]int{{0, 0}, {2, 9}, {-3, -3}, {1 << 20, 1 << 20}, {5, 4}} {
		_, found, err := FindChessboardCorners(empty, board[0], board[1], 0)
		assert.Error(t, err)
		assert.False(t, found)
		_, found, err = FindChessboardCornersSB(empty, board[0], board[1], 0)
		assert.Error(t, err)
		assert.False(t, found)
	}
}

func TestDecode(t *testing.T) {
	_, err := Decode(nil, gocv.IMReadColor)
	require.EqualError(t, err, "OpenCV: decode: 0 bytes are no picture")
	_, err = Decode([]byte("no picture at all"), gocv.IMReadColor)
	require.EqualError(t, err, "OpenCV: decode: the data cannot be decoded")

	src := filled(40, 30, gocv.MatTypeCV8UC3)
	defer closeAll(t, &src)
	src.SetUCharAt(7, 3*5+1, 200)
	buf, err := gocv.IMEncode(gocv.PNGFileExt, src)
	require.NoError(t, err)
	defer buf.Close()
	m, err := Decode(buf.GetBytes(), gocv.IMReadColor)
	require.NoError(t, err)
	defer closeAll(t, &m)
	assert.Equal(t, src.ToBytes(), m.ToBytes())
}

func TestWrappersDoWhatTheirNamesSay(t *testing.T) {
	src, out := filled(4, 3, gocv.MatTypeCV8UC1), gocv.NewMat()
	defer closeAll(t, &src, &out)
	for i := range 12 {
		src.SetUCharAt(i/4, i%4, uint8(10*i))
	}
	require.NoError(t, Transpose(src, &out))
	assert.Equal(t, []int{4, 3}, out.Size())
	assert.Equal(t, []byte{0, 40, 80, 10, 50, 90, 20, 60, 100, 30, 70, 110}, out.ToBytes())
	require.NoError(t, Flip(src, &out, 1))
	assert.Equal(t, []byte{30, 20, 10, 0}, out.ToBytes()[:4])
	require.NoError(t, ConvertTo(src, &out, gocv.MatTypeCV16U, 257, 0))
	assert.Equal(t, gocv.MatTypeCV16UC1, out.Type())
	require.NoError(t, Resize(src, &out, image.Pt(8, 6), gocv.InterpolationNearestNeighbor))
	assert.Equal(t, []int{6, 8}, out.Size())
	require.NoError(t, CvtColor(src, &out, gocv.ColorGrayToBGR))
	assert.Equal(t, 3, out.Channels())
	require.NoError(t, GaussianBlur(src, &out, image.Pt(3, 3), 0.8, 0.8, gocv.BorderDefault))
	assert.Equal(t, []int{3, 4}, out.Size())

	shift := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(0, 0, 0, 0), 2, 3, gocv.MatTypeCV64F)
	defer closeAll(t, &shift)
	shift.SetDoubleAt(0, 0, 1)
	shift.SetDoubleAt(1, 1, 1)
	shift.SetDoubleAt(0, 2, 1) // one pixel to the right
	grey := color.RGBA{B: 9, G: 9, R: 9}
	require.NoError(t, WarpAffine(src, &out, shift, image.Pt(4, 3), gocv.InterpolationLinear, gocv.BorderConstant, grey))
	assert.Equal(t, []byte{9, 0, 10, 20}, out.ToBytes()[:4])

	x, y := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(2, 0, 0, 0), 1, 2, gocv.MatTypeCV32F),
		gocv.NewMatWithSizeFromScalar(gocv.NewScalar(1, 0, 0, 0), 1, 2, gocv.MatTypeCV32F)
	defer closeAll(t, &x, &y)
	require.NoError(t, Remap(src, &out, x, y, gocv.InterpolationLinear, gocv.BorderConstant, grey))
	assert.Equal(t, []byte{60, 60}, out.ToBytes())
}

func TestOverWhite(t *testing.T) {
	src, out := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(10, 20, 200, 51), 2, 2, gocv.MatTypeCV8UC4), gocv.NewMat()
	defer closeAll(t, &src, &out)
	require.NoError(t, OverWhite(src, &out, false))
	// Porter and Duff 1984, 'over' on an opaque ground: c*a + ground*(1-a), here with a = 0.2.
	assert.Equal(t, []byte{206, 208, 244}, out.ToBytes()[:3])
	require.NoError(t, OverWhite(src, &out, true))
	assert.Equal(t, []byte{214, 224, 255}, out.ToBytes()[:3], "c + ground*(1-a), clipped")
}

// The board is drawn here with its corners at known places: the corner of four squares lies between pixels, at x.5.
func TestChessboards(t *testing.T) {
	const cols, rows, side, left, top = 5, 4, 24, 60, 48
	img := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(235, 0, 0, 0), 260, 300, gocv.MatTypeCV8UC1)
	soft := gocv.NewMat()
	defer closeAll(t, &img, &soft)
	for y := range (rows + 1) * side {
		for x := range (cols + 1) * side {
			if (x/side+y/side)%2 == 0 {
				img.SetUCharAt(top+y, left+x, 20)
			}
		}
	}
	require.NoError(t, GaussianBlur(img, &soft, image.Pt(5, 5), 1, 1, gocv.BorderDefault))
	near := func(corners []gocv.Point2f, tolerance float64) {
		t.Helper()
		require.Len(t, corners, cols*rows)
		for r := range rows {
			for c := range cols {
				x, y := float64(left+(c+1)*side)-0.5, float64(top+(r+1)*side)-0.5
				best := math.Inf(1)
				for _, p := range corners {
					best = min(best, math.Hypot(float64(p.X)-x, float64(p.Y)-y))
				}
				assert.Less(t, best, tolerance, "corner %d, %d", c, r)
			}
		}
	}
	corners, found, err := FindChessboardCorners(soft, cols, rows, gocv.CalibCBAdaptiveThresh|gocv.CalibCBNormalizeImage)
	require.NoError(t, err)
	require.True(t, found)
	near(corners, 1.5)
	require.NoError(t, CornerSubPix(soft, corners, 5, -1, 40, 0.001))
	near(corners, 0.05)

	corners, found, err = FindChessboardCornersSB(soft, cols, rows, gocv.CalibCBAccuracy)
	require.NoError(t, err)
	require.True(t, found)
	near(corners, 0.1)

	board, found, err := FindBoardSB(soft, 4, 3, gocv.CalibCBAccuracy|gocv.CalibCBLarger|gocv.CalibCBExhaustive)
	require.NoError(t, err)
	require.True(t, found)
	assert.ElementsMatch(t, []int{cols, rows}, []int{board.Cols, board.Rows})
	near(board.Corners, 0.1)

	_, found, err = FindChessboardCornersSB(soft, 9, 6, 0)
	require.NoError(t, err)
	assert.False(t, found)
}

func TestThreadsAndVersion(t *testing.T) {
	SetNumThreads(1)
	assert.Equal(t, 1, NumThreads())
	SetNumThreads(-1)
	assert.GreaterOrEqual(t, NumThreads(), 1)
	assert.Equal(t, gocv.OpenCVVersion(), Version())
}

func filled(width, height int, mt gocv.MatType) gocv.Mat {
	return gocv.NewMatWithSizeFromScalar(gocv.NewScalar(90, 90, 90, 90), height, width, mt)
}

func closeAll(t *testing.T, mats ...*gocv.Mat) {
	for _, m := range mats {
		require.NoError(t, m.Close())
	}
}
