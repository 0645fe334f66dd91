package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// A pseudo is a pseudo-terminal that stands in for a bench bridge: what is
// written to it is read at its path as from a serial port.
type pseudo struct {
	master, slave *os.File // the slave is held open: a reader that leaves does not end it
	path          string
	link          string
}

// openPseudo makes a pseudo-terminal in raw mode, and a link to it when one is
// asked for.
func openPseudo(linkPath string) (*pseudo, error) {
	p, err := newPseudo()
	if err != nil {
		return nil, err
	}
	if linkPath == "" {
		return p, nil
	}
	if err := replaceLink(linkPath, p.path); err != nil {
		p.close()
		return nil, err
	}
	p.link = linkPath
	return p, nil
}

// replaceLink points a link to another path in one step. What is there and no
// link is never touched.
func replaceLink(link, target string) error {
	info, err := os.Lstat(link)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return linkError(link, err)
	case info.Mode()&fs.ModeSymlink == 0:
		return hinted(fmt.Errorf("make link %s: something else is there", link), "give another name, or remove it yourself")
	}
	fresh := filepath.Join(filepath.Dir(link), fmt.Sprintf(".%s.%d", filepath.Base(link), os.Getpid()))
	if err := os.Symlink(target, fresh); err != nil {
		return linkError(link, err)
	}
	if err := os.Rename(fresh, link); err != nil {
		os.Remove(fresh)
		return linkError(link, err)
	}
	return nil
}

// linkError says why a link cannot be made; the names on the way to it are
// nobody's business.
func linkError(link string, err error) error {
	var of *os.LinkError
	var path *fs.PathError
	switch {
	case errors.Is(err, fs.ErrNotExist):
		err = errors.New("its folder is not there")
	case errors.As(err, &of):
		err = of.Err
	case errors.As(err, &path):
		err = path.Err
	}
	return hinted(fmt.Errorf("make link %s: %w", link, err), "give a link in a folder that you may write to: --pty=LINK")
}

// drain waits a little until a reader has taken all: what is unread when the
// pseudo-terminal ends is lost.
func (p *pseudo) drain() {
	for end := time.Now().Add(endPatience); p.unread() > 0 && time.Now().Before(end); {
		time.Sleep(10 * time.Millisecond)
	}
}

// close ends the pseudo-terminal: its reader sees the port go. The link goes
// too, when it is still ours.
func (p *pseudo) close() {
	if p.link != "" {
		if to, err := os.Readlink(p.link); err == nil && to == p.path {
			os.Remove(p.link)
		}
	}
	p.slave.Close()
	p.master.Close()
}
