package link

import "syscall"

func mountSmall(dir string) error {
	return syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=64k")
}

func unmount(dir string) { _ = syscall.Unmount(dir, 0) }
