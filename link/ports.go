package link

import (
	"cmp"
	"slices"
)

// A PortInfo names one serial port of this machine.
type PortInfo struct {
	Name string
	USB  string // what the adapter calls itself, "" when not known
	ID   string // vendor:product in hexadecimal, "" when it is not on USB
}

// Ports lists the serial ports, by name.
func Ports() ([]PortInfo, error) {
	list, err := listPorts()
	if err != nil {
		return nil, err
	}
	slices.SortFunc(list, func(a, b PortInfo) int { return cmp.Compare(a.Name, b.Name) })
	return list, nil
}
