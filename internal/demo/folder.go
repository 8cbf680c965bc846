// Package demo makes an invented screening day through the same commands as the pages. Everything in it is invented, and
// says so; nothing of it can be taken for a real programme's record.
package demo

import (
	"errors"
	"os"
	"path/filepath"

	"fairstick/internal/fault"
)

// marker names a folder as an invented day, which may be thrown away.
const marker = "INVENTED-DEMO-DATA.txt"

// Mark writes into a folder that it holds an invented day.
func Mark(dir string) error {
	return os.WriteFile(filepath.Join(dir, marker), []byte("Everything in this folder is invented. It is thrown away when the demo starts again.\n"), 0o600)
}

// Clear removes an earlier invented day. A folder that is not marked as one is refused and left as it is.
func Clear(dir string) error {
	list, err := os.ReadDir(dir)
	if errors.Is(err, os.ErrNotExist) || err == nil && len(list) == 0 {
		return nil
	}
	if err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Join(dir, marker)); err != nil {
		return fault.New(fault.Refused, "not-a-demo", "The folder "+dir+" holds something that is not a demo day.",
			"The demo throws its folder away when it starts.", "Name an empty folder, or none.")
	}
	return os.RemoveAll(dir)
}
