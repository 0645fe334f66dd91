package sweep

var powerCases []Case
