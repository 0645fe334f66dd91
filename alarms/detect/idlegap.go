package detect

// NewIdleGap returns the detector of idle-gap.
func NewIdleGap() Detector { return &unbuilt{IdleGap} }
