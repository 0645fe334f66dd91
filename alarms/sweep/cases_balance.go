package sweep

var balanceCases []Case
