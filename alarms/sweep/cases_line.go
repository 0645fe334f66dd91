package sweep

var lineCases []Case
