package alarms

import "tetherbell/alarms/detect"

// Change says what happened to an alarm.
type Change uint8

// The changes that events tell of.
const (
	Raised Change = iota
	Worsened
	Eased
	Cleared
	Acknowledged
)

// String returns the word that events carry.
func (c Change) String() string {
	return [...]string{"raised", "worsened", "eased", "cleared", "acknowledged"}[c]
}

// An Event is one change of one alarm.
type Event struct {
	T            int64 // engine microseconds, rounded to a millisecond
	Kind         detect.Kind
	Change       Change
	Priority     detect.Priority
	Where        detect.Where
	Value, Limit float64
	First        bool  // first of a burst
	Since        int64 // engine time of the raise
	Story        detect.Story
}
