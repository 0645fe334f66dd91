//go:build !unix

package link

import "io/fs"

// nameless: a file that is open cannot be removed.
func nameless(fs.FileInfo) bool { return false }
