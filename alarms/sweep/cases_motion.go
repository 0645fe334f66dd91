package sweep

var motionCases []Case
