package detect

// NewControlLost returns the detector of control-lost.
func NewControlLost() Detector { return &unbuilt{ControlLost} }
