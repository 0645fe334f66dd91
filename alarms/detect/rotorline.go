package detect

// NewRotorLine returns the detector of rotor-line.
func NewRotorLine() Detector { return &unbuilt{RotorLine} }
