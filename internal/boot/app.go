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
	open := func(ctx context.Context, at cli.Folder, mode Mode, log *slog.Logger) (*programme.Programme, io.Closer, error) {
		n, err := openWith(ctx, at, mode, newSteady(), log)
		if err != nil {
			return nil, nil, err
		}
		return n.Programme, n, nil
	}
	return cli.App{
		DataDir: DataDir,
		Open: func(ctx context.Context, at cli.Folder, look bool, log *slog.Logger) (*programme.Programme, io.Closer, error) {
			if look {
				return open(ctx, at, ReadOnly, log)
			}
			return open(ctx, at, ReadWrite, log)
		},
		Create: func(ctx context.Context, at cli.Folder, log *slog.Logger) (*programme.Programme, io.Closer, error) {
			return open(ctx, at, Create, log)
		},
		Serve:        serveHouse,
		Restore:      restore,
		VerifyBackup: verifyBackup,
		Demo: func(ctx context.Context, dir string, at cli.Address, version string, log *slog.Logger, ready func(string, string)) error {
			r, err := Demo(ctx, dir, listenAt(at), version, log)
			if err != nil {
				return err
			}
			return r.until(ctx, ready)
		},
	}
}

func listenAt(a cli.Address) Listen { return Listen{Addr: a.Addr, LAN: a.LAN, Public: a.Public} }

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
