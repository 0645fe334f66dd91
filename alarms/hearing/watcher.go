package hearing

// A Frame is one line of the axes stream, as every detector gets it: rounded,
// with its jitter, after losses.
type Frame struct {
	T      float64    // seconds, the time stamp
	Output [3]float64 // controller output, shares of full
	Rate   [3]float64 // measured rate, deg/s
	Demand [3]float64 // deg/s
}

// A Baseline is a published detector of oscillation that watches the
// controller output of three axes. Instead of a yes or no it tells a score, so
// that the threshold can be set to any rate of false alarms: its alarm is the
// score passing a threshold.
type Baseline interface {
	// Name is the detector's name in the tables.
	Name() string
	// Reset forgets everything, for a stream of the given lines a second.
	Reset(rate float64)
	// Take looks at one frame.
	Take(f *Frame)
	// Score is what the frames up to now give axis i, 0 or more. It may not
	// depend on frames to come.
	Score(i int) float64
}
