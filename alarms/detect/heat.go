package detect

// NewMotorHeat returns the detector of motor-heat.
func NewMotorHeat() Detector { return &unbuilt{MotorHeat} }
