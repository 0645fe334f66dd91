//go:build darwin && !cgo

package link

import (
	"fmt"

	"go.bug.st/serial"
)

// listPorts knows no USB names here: asking for them needs cgo.
func listPorts() ([]PortInfo, error) {
	found, err := serial.GetPortsList()
	if err != nil {
		return nil, fmt.Errorf("list serial ports: %w", err)
	}
	list := make([]PortInfo, 0, len(found))
	for _, name := range found {
		list = append(list, PortInfo{Name: name})
	}
	return list, nil
}
