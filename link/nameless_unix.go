//go:build unix

package link

import (
	"io/fs"
	"syscall"
)

// nameless reports whether no folder holds a name of an open file any more.
func nameless(info fs.FileInfo) bool {
	st, ok := info.Sys().(*syscall.Stat_t)
	return ok && st.Nlink == 0
}
