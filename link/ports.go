package link

import (
	"cmp"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
)

// A PortInfo names one serial port of this machine.
type PortInfo struct {
	Name   string
	USB    string // what the adapter calls itself, "" when not known
	ID     string // vendor:product in hexadecimal, "" when it is not on USB
	Denied bool   // it is there, but may not be opened
}

// Ports lists the serial ports, by name. A port that is there but may not be
// opened is listed too. When the system gives no list, what can be seen among
// the devices is returned with the error.
func Ports() ([]PortInfo, error) {
	list, err := listPorts()
	return addCandidates(list, candidates(), mayNotOpen), err
}

// usualPorts are the names that serial ports go by where devices are files.
// Those of built-in ports (ttyS) are left to the system's own list: most of
// them stand for hardware that is not there.
var usualPorts = []string{"/dev/ttyUSB*", "/dev/ttyACM*", "/dev/ttyAMA*", "/dev/ttyXRUSB*", "/dev/rfcomm*", "/dev/cu.*"}

func candidates() []string {
	var all []string
	for _, pattern := range usualPorts {
		found, _ := filepath.Glob(pattern) // the patterns are sound
		all = append(all, found...)
	}
	return all
}

// addCandidates completes a list with the devices that it leaves out, and
// marks what may not be opened.
func addCandidates(list []PortInfo, names []string, denied func(string) bool) []PortInfo {
	list = slices.DeleteFunc(list, func(p PortInfo) bool { return p.Name == "" })
	for _, name := range names {
		if !slices.ContainsFunc(list, func(p PortInfo) bool { return p.Name == name }) {
			list = append(list, PortInfo{Name: name})
		}
	}
	for i := range list {
		list[i].Denied = denied(list[i].Name)
	}
	slices.SortFunc(list, func(a, b PortInfo) int { return cmp.Compare(a.Name, b.Name) })
	return list
}

// mayNotOpen reports whether the system refuses to open a device to us. It
// asks without opening it: that would raise the lines of the port.
func mayNotOpen(name string) bool {
	info, err := os.Stat(name)
	if err != nil {
		return errors.Is(err, fs.ErrPermission)
	}
	return info.Mode()&fs.ModeCharDevice != 0 && refused(name)
}
