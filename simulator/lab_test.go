package simulator

// quietScenario is the demo craft with no chance in it, armed at 0.2 s and
// brought to the stick 0.27 within a second.
func quietScenario() Scenario {
	sc := Default()
	sc.Name, sc.Lesson, sc.Seconds = "quiet", "for tests", 30
	sc.Air.Gust = 0
	sc.Sensors = Sensors{FrameDamping: 1, MountDamping: 1}
	sc.Link.Jitter = 0
	sc.Events = []Event{
		{At: 0.2, Do: "arm"},
		{At: 0.5, Do: "throttle", To: 0.27, Over: 1},
	}
	return sc
}

// playUntil runs a bench up to a time, all motors alike.
func playUntil(b *Bench, seconds float64) {
	for m := range b.motors {
		b.rotors[m].speedBy = 1
	}
	var buf []byte
	for done := false; !done && b.now < microseconds(seconds); {
		buf, _, done = b.Next(buf[:0])
	}
}
