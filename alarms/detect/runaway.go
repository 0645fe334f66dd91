package detect

// NewRunaway returns the detector of runaway.
func NewRunaway() Detector { return &unbuilt{Runaway} }
