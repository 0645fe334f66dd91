package detect

// NewReversedResponse returns the detector of reversed-response.
func NewReversedResponse() Detector { return &unbuilt{ReversedResponse} }
