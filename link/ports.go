package link

import (
	"cmp"
	"os"
	"path/filepath"
	"slices"
	"strings"
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
var usualPorts = []string{"/dev/ttyUSB*", "/dev/ttyACM*", "/dev/ttyAMA*", "/dev/ttyXRUSB*", "/dev/rfcomm*", "/dev/cu.*"}

func candidates() []string {
	var all []string
	for _, pattern := range usualPorts {
		found, _ := filepath.Glob(pattern) // the patterns are sound
		all = append(all, found...)
	}
	// Most built-in ports stand for hardware that is not there: theirs is of
	// type 0.
	builtIn, _ := filepath.Glob("/dev/ttyS*")
	for _, name := range builtIn {
		kind, err := os.ReadFile(filepath.Join("/sys/class/tty", filepath.Base(name), "type"))
		if text := strings.TrimSpace(string(kind)); err == nil && text != "" && text != "0" {
			all = append(all, name)
		}
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
