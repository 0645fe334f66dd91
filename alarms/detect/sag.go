package detect

// NewPackSag returns the detector of pack-sag.
func NewPackSag() Detector { return &unbuilt{PackSag} }
