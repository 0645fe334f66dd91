package detect

// NewPressureDip returns the detector of pressure-dip.
func NewPressureDip() Detector { return &unbuilt{PressureDip} }
