// Command fairstick runs a community blood-glucose screening programme from one laptop.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"fairstick/internal/boot"
	"fairstick/internal/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	go func() {
		<-ctx.Done()
		stop() // the first interrupt closes in order; a second one ends at once
	}()
	os.Exit(cli.Run(ctx, boot.App(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
