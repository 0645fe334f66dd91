//go:build !race

package alarms_test

const quick = false
