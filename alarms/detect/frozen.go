package detect

// NewFrozenSensor returns the detector of frozen-sensor.
func NewFrozenSensor() Detector { return &unbuilt{FrozenSensor} }
