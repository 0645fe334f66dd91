package main

import (
	"fmt"
	"strings"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// A ring is an alarm that a person had to act on.
type ring struct {
	at       int64 // engine microseconds
	kind     detect.Kind
	where    detect.Where
	priority detect.Priority
	action   string
}

// verdictLines word what a session came to. first is nil when nothing of
// medium or high priority rang.
func verdictLines(file string, sum *alarms.Summary, first *ring) []string {
	out := []string{file + ": " + verdict(sum, first)}
	if rang := rangText(sum); rang != "" {
		out = append(out, "  rang: "+rang)
	}
	out = append(out, fmt.Sprintf("  %d good lines, %d bad, %d lost in %.1f s", sum.Lines, sum.Bad, sum.Lost, float64(sum.Duration)/1e6))
	for _, l := range lackLines(sum.NotWatched) {
		out = append(out, "  not watched: "+l)
	}
	return out
}

// lackLines names what was not watched, one line for each reason.
func lackLines(lacks []alarms.Lack) []string {
	var whys []string
	names := map[string][]string{}
	for _, l := range lacks {
		if names[l.Why] == nil {
			whys = append(whys, l.Why)
		}
		names[l.Why] = append(names[l.Why], l.Name)
	}
	for i, why := range whys {
		whys[i] = strings.Join(names[why], ", ") + " (" + why + ")"
	}
	return whys
}

func verdict(sum *alarms.Summary, first *ring) string {
	if sum.Lines == 0 {
		return "not one good line, so nothing was watched"
	}
	if first == nil {
		if sum.Worst == detect.Low {
			return "nothing of medium or high priority; read what is low before you go on"
		}
		return "nothing of medium or high priority"
	}
	s := fmt.Sprintf("%s priority: first %s at %s, %.3f s", strings.ToUpper(sum.Worst.String()), first.kind, first.where, float64(first.at)/1e6)
	if first.action != "" {
		s += "; first action: " + first.action
	}
	return s
}

// rangText counts the alarms by name.
func rangText(sum *alarms.Summary) string {
	var parts []string
	for k, n := range sum.Raised {
		if n > 0 {
			parts = append(parts, fmt.Sprintf("%s %d", detect.Kind(k), n))
		}
	}
	return strings.Join(parts, ", ")
}
