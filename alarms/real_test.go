package alarms_test

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// realFlight writes one recorded flight of the open nano-quadrotor set (CrazyPAD,
// Data 2024, 9(6), 79, MIT) as lines of our protocol and feeds them to an
// engine. It returns the events and the times at which the craft left the
// ground.
func realFlight(t *testing.T, name string) (events []alarms.Event, liftOff []float64, sum alarms.Summary) {
	t.Helper()
	dir := os.Getenv("TETHERBELL_DATA")
	if dir == "" {
		t.Skip("TETHERBELL_DATA is not set: the open flight records are not here")
	}
	f, err := os.Open(filepath.Join(dir, "quad_hover", name+".csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	col := map[string]int{}
	for i, h := range rows[0] {
		col[h] = i
	}
	// Its one small cell gives 3.44 V and less in healthy flight, from 3.8 V at
	// rest: under the default limit, and true. Who flies such a craft says so in
	// its file.
	e := alarms.New(craft.Craft{Limits: craft.Limits{SagMedium: 3.35}}, alarms.Options{})
	var dec decode.Decoder
	seq := uint16(0)
	send := func(s *decode.Sample) {
		s.Seq = seq
		seq++
		line := decode.Append(nil, s)
		var in decode.Sample
		require.NoError(t, dec.Decode(line[:len(line)-1], &in))
		e.Sample(&in, len(line))
		events = append(events, copyEvents(e.Events())...)
	}
	craftLine := decode.Sample{Tag: decode.Craft, Text: []byte("open set"), Word: []byte("quad-x")}
	craftLine.Put(decode.CraftMotors, 4)
	craftLine.Put(decode.CraftCells, 1)
	send(&craftLine)
	flew := false
	for _, row := range rows[1:] {
		num := func(name string) float64 {
			v, err := strconv.ParseFloat(row[col[name]], 64)
			require.NoError(t, err)
			return v
		}
		at := uint32(num("t_s") * 1e6)
		flying(t, col, num, at, send)
		on := false
		if _, ok := col["thrust_cmd"]; ok {
			on = num("thrust_cmd") > 0
		} else {
			on = num("out1")+num("out2")+num("out3")+num("out4") > 0
		}
		// The height is a barometer's and wanders: it leaves the ground with
		// thrust on.
		flies := on && num("height_m") >= 0.02
		if flies && !flew {
			liftOff = append(liftOff, num("t_s"))
		}
		flew = flies || flew && on
	}
	e.Finish()
	events = append(events, copyEvents(e.Events())...)
	return events, liftOff, e.Summary()
}

// flying sends one row: its state, then rates and controller outputs or motor
// outputs, whichever the file holds.
func flying(t *testing.T, col map[string]int, num func(string) float64, at uint32, send func(*decode.Sample)) {
	t.Helper()
	throttle, armed := 0.0, 0.0
	state := decode.Sample{Tag: decode.State, Time: at}
	var more decode.Sample
	if _, ok := col["thrust_cmd"]; ok {
		throttle = num("thrust_cmd") / 65535
		more = decode.Sample{Tag: decode.Axes, Time: at}
		for i, x := range []string{"x", "y", "z"} {
			more.Put(decode.RateRoll+i, num("rate_"+x+"_rad_s")*57.29577951308232)
			more.Put(decode.ControlRoll+i, min(max(num("u_"+x)/32767, -1), 1))
		}
		more.Put(decode.Throttle, throttle)
		if throttle > 0 {
			armed = 1
		}
	} else {
		more = decode.Sample{Tag: decode.Out, Time: at}
		for i := range 4 {
			v := num(fmt.Sprintf("out%d", i+1)) / 65535
			throttle += v / 4
			more.Put(i, v)
		}
		if throttle > 0 {
			armed = 1
		}
		pack := decode.Sample{Tag: decode.Pack, Time: at}
		pack.Put(decode.Volts, num("vbat_V"))
		send(&pack)
	}
	state.Put(decode.Armed, armed)
	state.Put(decode.Stopped, 0)
	g := 0.0
	if num("height_m") < 0.02 {
		g = 1
	}
	state.Put(decode.Ground, g)
	state.Put(decode.StickThrottle, throttle)
	send(&state)
	send(&more)
}

func copyEvents(in []alarms.Event) []alarms.Event { return append([]alarms.Event(nil), in...) }

// TestRealHealthyFlights: the healthy ones rock on their feet for a second
// and wander in flight; none of that may ring.
func TestRealHealthyFlights(t *testing.T) {
	for _, name := range []string{"rates_healthy_A0", "rates_healthy_B0", "outputs_healthy_A0", "outputs_healthy_B0"} {
		t.Run(name, func(t *testing.T) {
			events, lift, _ := realFlight(t, name)
			require.GreaterOrEqual(t, len(lift), 2, "two flights a file")
			for _, ev := range events {
				t.Log(ev.Plain())
				if ev.Change != alarms.Raised && ev.Change != alarms.Worsened {
					continue
				}
				if ev.Kind == detect.RisingOscillation {
					require.NotEqual(t, detect.High, ev.Priority, ev.Plain())
				}
				require.NotEqual(t, detect.TipOver, ev.Kind, ev.Plain())
				if ev.Priority >= detect.Medium {
					at := float64(ev.T) / 1e6
					early := false
					for _, l := range lift {
						early = early || at > l-1 && at < l+1.5
					}
					require.True(t, early, ev.Plain())
				}
			}
		})
	}
}

// TestRealDamagedFlights: what is heard of craft with a blade 3 mm short. The
// motor of that blade works hardest; and the other craft, whose rates swing at
// 170 to 200 deg/s in two bursts, would have torn at a tether: tip-over rings,
// since its sessions count as held. A taped blade is hardly out of balance.
func TestRealDamagedFlights(t *testing.T) {
	rang := func(name string, least detect.Priority) map[string]bool {
		events, _, _ := realFlight(t, name)
		out := map[string]bool{}
		for _, ev := range events {
			t.Log(name, ev.Plain())
			if ev.Kind == detect.StickHigh {
				continue // nobody flew these: the throttle stands in for the stick, and opens as it arms
			}
			if ev.Change == alarms.Raised && ev.Priority >= least {
				out[ev.Kind.String()+" "+ev.Where.String()] = true
			}
		}
		return out
	}
	require.Contains(t, rang("outputs_cut3mm_out3_A1", detect.Low), "output-imbalance m3")
	cut := rang("rates_cut3mm_out3_B0", detect.High)
	require.Contains(t, cut, "tip-over roll")
	require.Contains(t, cut, "tip-over pitch")
	require.Empty(t, rang("outputs_tape_out3_A0", detect.Medium))
	require.Empty(t, rang("rates_tape_out3_A0", detect.High))
}
