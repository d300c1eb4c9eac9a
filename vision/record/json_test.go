package record

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestFiguresInJSONEndWhereTheyMeanNothing(t *testing.T) {
	for want, v := range map[string]any{
		`{"value":0.099631,"u":0.109364,"unit":"mm"}`:                       Value{Value: 0.09963139475309768, U: 0.10936379819041954, Unit: "mm"},
		`{"value":-3,"u":0,"unit":"1"}`:                                     Value{Value: -3, Unit: "1"},
		`{"kind":"known","mm_per_px":0.00205,"u_rel":0.00238}`:              Scale{Kind: "known", MMPerPX: 0.00205, URel: 0.0023819939822074115},
		`{"kind":"disc","mm_per_px":0.05044313,"u_rel":0,"tilt_deg":12.94}`: Scale{Kind: "disc", MMPerPX: 0.05044312677622766, TiltDeg: 12.942884},
	} {
		got, err := json.Marshal(v)
		require.NoError(t, err)
		assert.Equal(t, want, string(got))
	}
}
