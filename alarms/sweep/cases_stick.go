package sweep

var stickCases []Case
