package boot

import (
	"context"
	"io"
	"log/slog"
	"time"

	"fairstick/internal/cli"
	"fairstick/internal/programme"
)

// App gives the command line what it needs.
func App() cli.App {
	open := func(ctx context.Context, dir string, mode Mode, log *slog.Logger) (*programme.Programme, io.Closer, error) {
		n, err := Open(ctx, dir, mode, log)
		if err != nil {
			return nil, nil, err
		}
		return n.Programme, n, nil
	}
	return cli.App{
		DataDir: DataDir,
		Open: func(ctx context.Context, dir string, look bool, log *slog.Logger) (*programme.Programme, io.Closer, error) {
			if look {
				return open(ctx, dir, ReadOnly, log)
			}
			return open(ctx, dir, ReadWrite, log)
		},
		Create: func(ctx context.Context, dir string, log *slog.Logger) (*programme.Programme, io.Closer, error) {
			return open(ctx, dir, Create, log)
		},
		Serve: func(ctx context.Context, dir string, at cli.Address, version string, log *slog.Logger, ready func(string, string)) (err error) {
			n, err := Open(ctx, dir, ReadWrite, log)
			if err != nil {
				return err
			}
			defer func() {
				if e := n.Close(); err == nil {
					err = e
				}
			}()
			r, err := Serve(n, dir, Listen(at), version, log)
			if err != nil {
				return err
			}
			return r.until(ctx, ready)
		},
		Demo: func(ctx context.Context, dir string, at cli.Address, version string, log *slog.Logger, ready func(string, string)) error {
			r, err := Demo(ctx, dir, Listen(at), version, log)
			if err != nil {
				return err
			}
			return r.until(ctx, ready)
		},
	}
}

// until says where the pages are and serves them until the context ends.
func (r *Running) until(ctx context.Context, ready func(url, fingerprint string)) error {
	ready(r.URL, r.Fingerprint)
	select {
	case err := <-r.Done:
		return err
	case <-ctx.Done():
	}
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	return r.Stop(end)
}
