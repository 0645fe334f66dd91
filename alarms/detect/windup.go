package detect

// NewWindup returns the detector of windup.
func NewWindup() Detector { return &unbuilt{Windup} }
