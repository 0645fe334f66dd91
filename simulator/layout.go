package simulator

// maxMotors is how many motors a craft may have: as many as a line of the
// protocol carries.
const maxMotors = 8

// A place is where a motor stands, from the middle of all of them, and the
// way it turns.
type place struct {
	x, y float64 // m, forward and right
	spin float64 // -1 turns counter-clockwise seen from above, +1 clockwise
}

// evenly is a layout of motors at even angles around the middle.
type evenly struct {
	motors int
	first  float64 // degrees from the nose to m1, clockwise
}

// layouts are those of the protocol with even angles: clockwise seen from
// above, m1 the first one right of the nose. A motor on the nose itself comes
// last. "custom" is placed by the scenario's arms.
var layouts = map[string]evenly{
	"quad-x":    {4, 45},
	"quad-plus": {4, 90},
	"hex-x":     {6, 30},
	"octo-x":    {8, 22.5},
	"tri":       {3, 60},
}

// custom is the layout that the scenario's arms describe.
const custom = "custom"

// places returns where the motors stand. Neighbours turn against each other,
// m1 counter-clockwise, unless the arms of a custom layout say otherwise.
func (sc *Scenario) places() []place {
	if sc.Craft.Layout == custom {
		all := make([]place, len(sc.Arms))
		for m, a := range sc.Arms {
			all[m] = placeAt(a.BearingDeg, a.LengthMM/1000, -1)
			if a.Clockwise {
				all[m].spin = 1
			}
		}
		return centred(all)
	}
	l := layouts[sc.Craft.Layout]
	all := make([]place, l.motors)
	for m := range all {
		turn := mul(360, float64(m)) / float64(l.motors)
		spin := -1.0
		if m%2 == 1 {
			spin = 1
		}
		all[m] = placeAt(l.first+turn, sc.Craft.DiagonalMM/2000, spin)
	}
	return all
}

func placeAt(bearing, length, spin float64) place {
	return place{mul(length, cosine(bearing/360)), mul(length, sine(bearing/360)), spin}
}

// centred moves the places so that their middle is the origin.
func centred(all []place) []place {
	var x, y float64
	for _, p := range all {
		x += p.x / float64(len(all))
		y += p.y / float64(len(all))
	}
	for m := range all {
		all[m].x -= x
		all[m].y -= y
	}
	return all
}

// A mixer says what each axis of the controller adds to each motor's output.
// Column 0 is throttle, then roll, pitch and yaw.
type mixer [maxMotors][4]float64

// newMixer inverts what the motors do. The rows of E say how much lift, roll,
// pitch and yaw each motor's thrust makes; the least outputs that make one of
// them and none of the others are the columns of E^T (E E^T)^-1, its
// pseudo-inverse (Penrose 1955), scaled so that the largest entry of a
// column is 1, and the mean of throttle's is. A tri has no yaw among its
// motors: its tail tilts.
func newMixer(all []place, yaw bool) (m mixer, ok bool) {
	n := 3
	if yaw {
		n = 4
	}
	effect := func(k int, p place) float64 {
		switch k {
		case 0:
			return 1
		case 1: // right wing down: thrust on the left
			return -p.y
		case 2: // nose up: thrust in front
			return p.x
		}
		return -p.spin // the frame is pushed against the rotor's turning
	}
	var square [4][4]float64
	for r := range n {
		for c := range n {
			for _, p := range all {
				square[r][c] += mul(effect(r, p), effect(c, p))
			}
		}
	}
	inverse, ok := invert(square, n)
	if !ok {
		return m, false
	}
	for c := range n {
		top, sum := 0.0, 0.0
		for i, p := range all {
			v := 0.0
			for r := range n {
				v += mul(effect(r, p), inverse[r][c])
			}
			m[i][c] = v
			top = max(top, v, -v)
			sum += v
		}
		if c == 0 {
			top = sum / float64(len(all))
		}
		for i := range all {
			m[i][c] = grid(m[i][c]/top, 1e12) // an even layout has round figures
		}
	}
	return m, true
}

// invert returns the inverse of the upper left n by n part, by Gauss and
// Jordan with the largest pivot of each column. ok is false when it has none.
func invert(a [4][4]float64, n int) (b [4][4]float64, ok bool) {
	for k := range n {
		b[k][k] = 1
	}
	for k := range n {
		best := k
		for r := k; r < n; r++ {
			if max(a[r][k], -a[r][k]) > max(a[best][k], -a[best][k]) {
				best = r
			}
		}
		a[k], a[best] = a[best], a[k]
		b[k], b[best] = b[best], b[k]
		p := a[k][k]
		if max(p, -p) < 1e-9 {
			return b, false
		}
		for c := range n {
			a[k][c] /= p
			b[k][c] /= p
		}
		for r := range n {
			if r == k {
				continue
			}
			f := a[r][k]
			for c := range n {
				a[r][c] -= mul(f, a[k][c])
				b[r][c] -= mul(f, b[k][c])
			}
		}
	}
	return b, true
}
