package link

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// errDeleted says that somebody has removed the file that is written to.
var errDeleted = errors.New("the file was deleted")

// A syncer forces files to the disk from a goroutine of its own: that may
// take seconds. It is asked for one at a time.
type syncer struct {
	ask    chan File
	answer chan error
}

// newSyncer starts a syncer; close ends it.
func newSyncer() *syncer {
	s := &syncer{ask: make(chan File, 1), answer: make(chan error, 1)}
	go s.routineSync()
	return s
}

// routineSync is started by newSyncer and ended by close. Nobody waits for
// it: a disk that does not answer would hold it for ever.
func (s *syncer) routineSync() {
	for f := range s.ask {
		s.answer <- safe(f)
	}
}

func (s *syncer) close() { close(s.ask) }

// safe forces a file to the disk. A file that has no name any more takes all
// that is written to it, and is lost with the program that writes.
func safe(f File) error {
	if err := f.Sync(); err != nil {
		return err
	}
	if s, ok := f.(interface{ Stat() (fs.FileInfo, error) }); ok {
		if info, err := s.Stat(); err == nil && nameless(info) {
			return errDeleted
		}
	}
	return nil
}

// syncFolder makes the names in a folder safe, where the system can: a file
// that was forced to the disk is lost all the same while its name is not.
func syncFolder(dir string) {
	d, err := os.Open(dir)
	if err != nil {
		return
	}
	_ = d.Sync() // what cannot be synced so, such as on Windows, needs none
	_ = d.Close()
}

// syncNames makes a new file's name safe, and that of a folder that may be as
// new as the file.
func syncNames(dir string) {
	syncFolder(dir)
	if abs, err := filepath.Abs(dir); err == nil {
		syncFolder(filepath.Dir(abs))
	}
}
