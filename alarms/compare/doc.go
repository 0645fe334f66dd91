// Package compare (under construction)
package compare
