// Package post sends what package tell made, and keeps its memory on disk.
//
// The memory is one file, replaced whole: what people were told and what is on
// its way change together. A message is struck off a channel after that channel
// has taken it, so a process killed in between sends it twice, under the same
// number, and none is lost. What cannot be sent waits and is tried again, after a
// minute first and six hours at most.
//
// Passwords and keys come from the environment or from a file that only its owner
// may read, and stand in no error. Certificates are checked unless site.yaml has
// the word for it.
package post

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"wane/cmd/wane/internal/tell"
	"wane/ingest/collect/secret"
	"wane/ingest/site"
)

// Channel takes messages.
type Channel interface {
	Name() string
	// Send gives a message over. It is called again with the same message where an
	// earlier call may have come through.
	Send(ctx context.Context, m tell.Message) error
}

// Channels are those that site.yaml names, for the site in folder.
func Channels(folder site.Folder, t site.Tell) []Channel {
	var out []Channel
	vault := secret.New(string(folder))
	if t.Mail != nil {
		out = append(out, &mailer{folder: folder, vault: vault, set: *t.Mail})
	}
	if t.Webhook != nil {
		out = append(out, &webhook{folder: folder, vault: vault, set: *t.Webhook})
	}
	return out
}

func names(channels []Channel) []string {
	var out []string
	for _, c := range channels {
		out = append(out, c.Name())
	}
	return out
}

func inFolder(folder site.Folder, path string) string {
	if filepath.IsAbs(path) {
		return path
	}
	return folder.Path(path)
}

// trust is how a server's certificate is checked.
func trust(folder site.Folder, host, ca, word string) (*tls.Config, error) {
	c := &tls.Config{ServerName: host, MinVersion: tls.VersionTLS12, InsecureSkipVerify: word == site.Unchecked}
	if ca == "" {
		return c, nil
	}
	text, err := os.ReadFile(inFolder(folder, ca))
	if err != nil {
		return nil, fmt.Errorf("read the certificates to trust: %w", err)
	}
	if c.RootCAs, err = x509.SystemCertPool(); err != nil {
		c.RootCAs = x509.NewCertPool()
	}
	if !c.RootCAs.AppendCertsFromPEM(text) {
		return nil, errors.New("the file " + ca + " holds no certificate in PEM form")
	}
	return c, nil
}
