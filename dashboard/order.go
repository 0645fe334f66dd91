package dashboard

import "strings"

// bigOrders are short forms of first actions for the big letters, which hold
// some fourteen letters at 80 columns. The whole action stands in small words
// below. The first row whose start an action has counts.
var bigOrders = [][2]string{
	{"EASE THE THROTTLE", "EASE OFF"},
	{"LOOK AT THE BRIDGE AND ITS CABLE", "CHECK CABLE"},
	{"LOOK AT THE BRIDGE", "CHECK BRIDGE"},
	{"LOOK FOR A TILTED MOTOR", "CHECK MOTORS"},
	{"CHECK PROPELLER AND MOTOR", "CHECK MOTOR"},
	{"CHECK PROPELLER", "CHECK PROPS"},
	{"RAISE THE BAUD", "RAISE BAUD"},
	{"LOWER THE GAINS", "LOWER GAINS"},
	{"MOVE WEIGHT", "MOVE WEIGHT"},
	{"SLACK THE HOLD-DOWN", "SLACK TETHER"},
	{"UNPLUG THE PACK", "UNPLUG PACK"},
	{"LET THE STICK GO", "LET STICK GO"},
}

// bigOrder words an action for the big letters. It never cuts a clause short:
// half an order may be the opposite of it.
func bigOrder(action string) string {
	order := strings.ToUpper(action)
	for _, o := range bigOrders {
		if strings.HasPrefix(order, o[0]) {
			return o[1]
		}
	}
	return order
}

// fitting is the order itself where big letters of it fit w columns, else its
// first part.
func fitting(order string, w int) string {
	if rows, ok := dots(order); ok && len(rows[0]) <= w {
		return order
	}
	return firstWords(order)
}

// firstWords cuts an action to its first part, for the big letters.
func firstWords(s string) string {
	for _, at := range []string{";", ",", ":", ". ", " AND ", " THEN "} {
		if i := strings.Index(s, at); i > 0 {
			s = s[:i]
		}
	}
	return strings.TrimSpace(s)
}
