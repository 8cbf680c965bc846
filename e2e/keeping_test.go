package e2e

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fairstick/internal/boot"
	"fairstick/internal/cli"
)

// The lead finds the record locked, unlocks it, looks after it and locks it again, with nothing but the pages.
func TestKeepingTheRecord(t *testing.T) {
	t.Parallel()
	const passphrase = "four heron paper lantern"
	dir := filepath.Join(t.TempDir(), "data")
	secret := filepath.Join(t.TempDir(), "secret")
	fatal(t, os.WriteFile(secret, []byte(passphrase+"\n"), 0o600))
	var out, said bytes.Buffer
	if code := cli.Run(t.Context(), boot.App(), []string{"init", "--data", dir, "--passphrase-file", secret, "--programme", "Invented Check", "--lead", "Lea Lead"}, strings.NewReader("4821\n"), &out, &said); code != 0 {
		t.Fatalf("init: %s%s", out.String(), said.String())
	}
	ctx, stop := context.WithCancel(t.Context())
	read, write := io.Pipe()
	ended := make(chan int, 1)
	go func() {
		ended <- cli.Run(ctx, boot.App(), []string{"serve", "--data", dir, "--addr", "127.0.0.1:0"}, strings.NewReader(""), write, io.Discard)
		_ = write.Close()
	}()
	first := make([]byte, 200)
	n, err := read.Read(first)
	fatal(t, err)
	go func() { _, _ = io.Copy(io.Discard, read) }()
	url := strings.TrimSpace(strings.SplitN(string(first[:n]), "\n", 2)[0])
	defer func() {
		stop()
		if code := <-ended; code != 0 {
			t.Errorf("serve ended with %d", code)
		}
	}()

	b := startBrowser(t)
	p := b.device("lead", laptop)
	p.visit(url + "/keep")
	p.see("The record is locked")
	p.fill("Passphrase", "four heron paper lamp")
	p.shot("locked")
	p.click("Unlock the record")
	p.see("This is not the passphrase")
	p.shot("wrong")
	p.fill("Passphrase", passphrase)
	p.click("Unlock the record")
	p.click("Lea Lead")
	for _, k := range "4821" {
		p.keys(string(k))
	}
	p.click("Sign in")
	p.see("It opens only with its passphrase")
	p.fullShot("keep")
	p.click("Keep a second copy")
	p.fill("Folder", filepath.Join(t.TempDir(), "no", "stick"))
	p.shot("copy")
	p.click("Keep the copy there")
	p.see("The second copy is being made")
	p.visit(url + "/keep")
	if !p.until(func() bool { p.visit(url + "/keep"); return p.has("is not there") }) {
		t.Error("the missing stick is not said")
	}
	p.fullShot("gone")
	p.visit(url + "/keep/passphrase")
	p.shot("passphrase")
	p.visit(url + "/keep/idle")
	p.fill("Minutes without use", "20")
	p.click("Save")
	p.see("after 20 minutes")
	p.visit(url + "/keep/backup")
	p.see("opens with the passphrase that the record has today")
	p.shot("backup")

	small := b.device("phone", phone)
	p.visit(url + "/keep")
	p.click("Lock now")
	p.see("The record is locked")
	small.visit(url + "/people")
	small.see("Type the passphrase of the record")
	small.shot("locked")
	small.fill("Passphrase", passphrase)
	small.click("Unlock the record")
	small.see("Lea Lead")
}
