package simulator

import (
	"bytes"
	"math"
	"math/rand/v2"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// drawWithin sets every number of a struct to a bound of its range, or
// anything between, where chance says so.
func drawWithin(v reflect.Value, rng *rand.Rand, often float64) {
	for k := range v.NumField() {
		f := v.Field(k)
		low, high, ok := strings.Cut(v.Type().Field(k).Tag.Get("within"), " ")
		switch {
		case f.Kind() == reflect.Struct:
			drawWithin(f, rng, often)
			continue
		case f.Kind() == reflect.Bool && rng.Float64() < often:
			f.SetBool(rng.IntN(2) == 0)
			continue
		case !ok || rng.Float64() >= often:
			continue
		}
		lo, _ := strconv.ParseFloat(low, 64)
		hi, _ := strconv.ParseFloat(high, 64)
		x := []float64{lo, hi, lo + (hi-lo)*rng.Float64(), lo + (hi-lo)*math.Pow(rng.Float64(), 6)}[rng.IntN(4)]
		switch {
		case f.CanFloat():
			f.SetFloat(x)
		case f.CanInt():
			f.SetInt(int64(x))
		case f.CanUint():
			f.SetUint(uint64(x))
		}
	}
}

// Whatever Check lets through plays without a number that is none, every line
// of it decodes, and a craft that is not armed stays where it is.
func TestDrawnScenariosStaySane(t *testing.T) {
	played := 0
	for seed := range uint64(400) {
		rng := rand.New(rand.NewPCG(seed, 0x5a9e))
		sc := Default()
		sc.Name, sc.Lesson = "drawn", "for tests"
		drawWithin(reflect.ValueOf(&sc).Elem(), rng, 0.02+0.2*rng.Float64())
		sc.Craft.Layout = []string{"quad-x", "quad-plus", "hex-x", "octo-x", "tri"}[rng.IntN(5)]
		sc.Craft.Hold = []string{"tether", "stand", "free"}[rng.IntN(3)]
		sc.Seconds, sc.Link.Baud, sc.Link.Flipped = 1.2, 0, 0
		sc.Rates = Rates{Axes: 200, Out: 50, ERPM: 50, Accel: 50, Load: 50, Temp: 20, Pack: 50, Air: 50, State: 50}
		sc.Events = []Event{{At: 0.4, Do: "arm"}, {At: 0.5, Do: "throttle", To: rng.Float64(), Over: 0.1}}
		if sc.Check() != nil {
			continue
		}
		played++
		// On pads so soft that its weight over the feet tips it, it falls over.
		body := newBody(&sc)
		half := min(sc.Craft.FeetLengthMM, sc.Craft.FeetWidthMM) / 2000
		stands := 4*body.padK*half*half > 2*body.mass*gravity*body.cgHeight && body.padC > 1 // undamped, it bounces on
		b := New(sc, seed)
		var d decode.Decoder
		var s decode.Sample
		var buf []byte
		for done := false; !done; {
			buf, _, done = b.Next(buf[:0])
			for line := range bytes.Lines(buf) {
				require.NoError(t, d.Decode(line[:len(line)-1], &s), "seed %d: %s", seed, line)
			}
			tr := b.Truth()
			for k := range 3 {
				require.False(t, math.IsNaN(tr.Rate[k]) || math.Abs(tr.Rate[k]) > 1e6, "seed %d at %d us: %+v", seed, tr.AtUS, tr)
			}
			require.False(t, math.IsNaN(tr.LiftN) || math.IsNaN(tr.Volts), "seed %d at %d us: %+v", seed, tr.AtUS, tr)
			if c := &sc.Craft; tr.AtUS < 400_000 && 4*math.Abs(c.CGForwardMM) < c.FeetLengthMM && 4*math.Abs(c.CGRightMM) < c.FeetWidthMM && stands {
				require.Less(t, math.Abs(tr.Rate[0])+math.Abs(tr.Rate[1]), 3.0, "seed %d moves by itself at %d us: %+v", seed, tr.AtUS, sc.Craft)
			}
		}
	}
	require.Greater(t, played, 80)
	t.Logf("%d scenarios played", played)
}
