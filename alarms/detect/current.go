package detect

// NewOverCurrent returns the detector of over-current.
func NewOverCurrent() Detector { return &unbuilt{OverCurrent} }
