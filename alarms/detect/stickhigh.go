package detect

// NewStickHigh returns the detector of stick-high.
func NewStickHigh() Detector { return &unbuilt{StickHigh} }
