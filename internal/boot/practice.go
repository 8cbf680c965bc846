package boot

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"fairstick/internal/cli"
	"fairstick/internal/programme"
	"fairstick/internal/sandbox"
)

// practiceFolder is how the folders of practice days begin, in the system's place for what is thrown away. They never stand in a data folder.
const practiceFolder = "fairstick-practice-"

// stale is how old a folder is that nobody can be using any more.
const stale = 24 * time.Hour

// practiceRecord makes the records of practice days, each in a folder of its own that goes when it is closed. What a laptop that lost its power left
// behind goes when a later practice day begins.
func practiceRecord(log *slog.Logger) sandbox.Opener {
	return func(ctx context.Context, now func() time.Time) (*programme.Programme, io.Closer, error) {
		sweepPractice(os.TempDir(), time.Now(), log)
		dir, err := os.MkdirTemp("", practiceFolder)
		if err != nil {
			return nil, nil, err
		}
		n, err := openWith(ctx, cli.Folder{Dir: filepath.Join(dir, "record")}, Create, nowFunc(now), log)
		if err != nil {
			return nil, nil, errors.Join(err, os.RemoveAll(dir))
		}
		return n.Programme, thrownAway{n, dir}, nil
	}
}

// sweepPractice removes the folders of practice days that are too old to be in use.
func sweepPractice(parent string, now time.Time, log *slog.Logger) {
	list, err := filepath.Glob(filepath.Join(parent, practiceFolder+"*"))
	if err != nil {
		return // the pattern is ours
	}
	for _, dir := range list {
		info, err := os.Lstat(dir)
		if err != nil || !info.IsDir() || now.Sub(info.ModTime()) < stale {
			continue
		}
		if err := os.RemoveAll(dir); err != nil {
			log.Debug("old practice day not removed", "err", err)
		}
	}
}

// nowFunc is a clock of a practice day.
type nowFunc func() time.Time

func (f nowFunc) Now() time.Time { return f() }

// thrownAway is a record that goes when it is closed.
type thrownAway struct {
	node *Node
	dir  string
}

// Close implements io.Closer.
func (t thrownAway) Close() error { return errors.Join(t.node.Close(), os.RemoveAll(t.dir)) }
