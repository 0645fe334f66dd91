//go:build !darwin || cgo

package link

import (
	"fmt"
	"strings"

	"go.bug.st/serial/enumerator"
)

func listPorts() ([]PortInfo, error) {
	found, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil, fmt.Errorf("list serial ports: %w", err)
	}
	list := make([]PortInfo, 0, len(found))
	for _, f := range found {
		p := PortInfo{Name: f.Name}
		if f.IsUSB {
			p.USB = strings.TrimSpace(f.Product)
			p.ID = strings.ToLower(f.VID + ":" + f.PID)
		}
		list = append(list, p)
	}
	return list, nil
}
