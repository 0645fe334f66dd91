package link

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// maxSameSecond bounds the recordings that may begin in one second.
const maxSameSecond = 1000

// Create makes a new recording in a folder, which is made when it is not
// there, and starts to write it. The name is the start in UTC; a file that
// is already there is never touched.
func Create(dir string, start time.Time, h SessionHeader) (*Recorder, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("make folder for recordings: %w", err)
	}
	start = start.UTC()
	if h.Start == "" {
		h.Start = start.Format(time.RFC3339)
	}
	base := start.Format("20060102T150405Z")
	for i := 1; i <= maxSameSecond; i++ {
		name := base
		if i > 1 {
			name = fmt.Sprintf("%s-%d", base, i)
		}
		path := filepath.Join(dir, name+".bell")
		f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY|os.O_APPEND, 0o644)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return nil, fmt.Errorf("make recording: %w", err)
		}
		return NewRecorder(f, path, h)
	}
	return nil, fmt.Errorf("make recording in %s: %d begin in the same second", dir, maxSameSecond)
}
