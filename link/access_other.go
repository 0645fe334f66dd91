//go:build !unix

package link

// mayNotOpen is never known here before a port is opened.
func mayNotOpen(string) bool { return false }
