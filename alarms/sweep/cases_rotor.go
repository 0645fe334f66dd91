package sweep

var rotorCases []Case
