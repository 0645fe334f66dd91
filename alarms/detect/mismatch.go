package detect

// NewThrottleMismatch returns the detector of throttle-mismatch.
func NewThrottleMismatch() Detector { return &unbuilt{ThrottleMismatch} }
