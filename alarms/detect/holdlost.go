package detect

// NewHoldLost returns the detector of hold-lost.
func NewHoldLost() Detector { return &unbuilt{HoldLost} }
