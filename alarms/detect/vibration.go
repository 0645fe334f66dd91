package detect

// NewVibrationStep returns the detector of vibration-step.
func NewVibrationStep() Detector { return &unbuilt{VibrationStep} }
