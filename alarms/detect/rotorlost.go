package detect

// NewRotorLost returns the detector of rotor-lost.
func NewRotorLost() Detector { return &unbuilt{RotorLost} }
