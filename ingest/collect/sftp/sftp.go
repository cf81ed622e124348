// Package sftp fetches new files from a folder reached by SSH.
//
// The server is known by its host key, or it is not talked to: there is no word
// that switches this off. What is new, and what is left for the next time, is
// decided by package folder.
package sftp

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"path"
	"strings"

	"github.com/pkg/sftp"
	"golang.org/x/crypto/ssh"
	"golang.org/x/crypto/ssh/knownhosts"

	"wane/ingest/collect"
	"wane/ingest/collect/internal/folder"
	"wane/ingest/collect/internal/trust"
	"wane/ingest/source"
)

// Source is a folder. Make it with New.
type Source struct {
	set  collect.Setting
	spec *source.SFTP
}

var _ collect.Poller = (*Source)(nil)

// New makes the source that its description's collect.sftp describes.
func New(set collect.Setting) (*Source, error) {
	return &Source{set: set, spec: set.Description.Collect.SFTP}, nil
}

// Poll fetches what is new.
func (s *Source) Poll(ctx context.Context, box collect.Box) error {
	conf, err := s.config()
	if err != nil {
		return collect.Refused(err)
	}
	var d net.Dialer
	conn, err := d.DialContext(ctx, "tcp", s.spec.Address)
	if err != nil {
		return fmt.Errorf("connect: %w", err)
	}
	defer conn.Close()
	stop := context.AfterFunc(ctx, func() { conn.Close() })
	defer stop()
	link, chans, reqs, err := ssh.NewClientConn(conn, s.spec.Address, conf)
	if err != nil {
		return s.say(ctx, err)
	}
	client := ssh.NewClient(link, chans, reqs)
	defer client.Close()
	files, err := sftp.NewClient(client)
	if err != nil {
		return ended(ctx, fmt.Errorf("%s offers no files: %w", s.spec.Address, err))
	}
	defer files.Close()
	rule := folder.Rule{Names: s.spec.Names, Settled: s.spec.Settled.Std(), First: s.set.Description.Collect.First.Std(),
		Now: s.set.Now()}
	return ended(ctx, folder.Fetch(ctx, &shelf{files, s.spec.Folder}, rule, box))
}

// config says who asks, and which server is believed to be the right one.
func (s *Source) config() (*ssh.ClientConfig, error) {
	c := &ssh.ClientConfig{User: s.spec.User}
	password, err := s.set.Vault.Read(s.spec.Password)
	if err != nil {
		return nil, err
	}
	if password != "" {
		c.Auth = []ssh.AuthMethod{ssh.Password(password)}
	}
	key, err := s.set.Vault.Read(s.spec.Key)
	if err != nil {
		return nil, err
	}
	if key != "" {
		signer, err := ssh.ParsePrivateKey([]byte(key + "\n"))
		if err != nil {
			return nil, fmt.Errorf("the key in %v cannot be used: %w", s.spec.Key, err)
		}
		c.Auth = []ssh.AuthMethod{ssh.PublicKeys(signer)}
	}
	var types []string
	if s.spec.HostKey != "" {
		host, _, _, _, err := ssh.ParseAuthorizedKey([]byte(s.spec.HostKey))
		if err != nil {
			return nil, fmt.Errorf("collect.sftp.hostKey is no key (%w); write such as ssh-ed25519 AAAA…", err)
		}
		c.HostKeyCallback = ssh.FixedHostKey(host)
		types = []string{host.Type()}
	} else {
		if c.HostKeyCallback, err = knownhosts.New(trust.Path(s.set.Dir, s.spec.KnownHosts)); err != nil {
			return nil, fmt.Errorf("read the known hosts: %w", err)
		}
		if types = known(c.HostKeyCallback, s.spec.Address); len(types) == 0 {
			return nil, fmt.Errorf("%s has no line for %s; add the one that its keeper confirms",
				s.spec.KnownHosts, s.spec.Address)
		}
	}
	// A server with several keys shows the one it is asked for first.
	for _, t := range types {
		if t == ssh.KeyAlgoRSA {
			c.HostKeyAlgorithms = append(c.HostKeyAlgorithms, ssh.KeyAlgoRSASHA512, ssh.KeyAlgoRSASHA256)
		} else {
			c.HostKeyAlgorithms = append(c.HostKeyAlgorithms, t)
		}
	}
	return c, nil
}

// known gives the types of key that the known hosts have for an address.
func known(check ssh.HostKeyCallback, address string) (types []string) {
	var want *knownhosts.KeyError
	if errors.As(check(address, &net.TCPAddr{}, noKey{}), &want) {
		for _, k := range want.Want {
			types = append(types, k.Key.Type())
		}
	}
	return types
}

// noKey is no key at all, to ask for those that are known.
type noKey struct{}

func (noKey) Type() string                        { return "none" }
func (noKey) Marshal() []byte                     { return []byte("none") }
func (noKey) Verify([]byte, *ssh.Signature) error { return errors.New("no key") }

// say puts words to a handshake that failed.
func (s *Source) say(ctx context.Context, err error) error {
	var key *knownhosts.KeyError
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.As(err, &key), strings.Contains(err.Error(), "host key mismatch"):
		return collect.Refused(fmt.Errorf("%s shows another host key than the one that is known: it may be another "+
			"server; ask its keeper before you change anything", s.spec.Address))
	case strings.Contains(err.Error(), "unable to authenticate"):
		return collect.Refused(fmt.Errorf("%s refuses user %s and what proves him", s.spec.Address, s.spec.User))
	}
	return fmt.Errorf("talk to %s: %w", s.spec.Address, err)
}

// ended gives the end of the time in place of what it broke.
func ended(ctx context.Context, err error) error {
	if err != nil && ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

type shelf struct {
	c   *sftp.Client
	dir string
}

func (s *shelf) List(ctx context.Context) ([]folder.Entry, error) {
	dir := s.dir
	if dir == "" {
		dir = "."
	}
	list, err := s.c.ReadDirContext(ctx, dir)
	if err != nil {
		return nil, fmt.Errorf("list %s: %w", dir, err)
	}
	var out []folder.Entry
	for _, f := range list {
		if f.Mode().IsRegular() {
			out = append(out, folder.Entry{Name: path.Join(dir, f.Name()), Size: f.Size(), Time: f.ModTime()})
		}
	}
	return out, nil
}

func (s *shelf) Open(_ context.Context, name string) (io.ReadCloser, error) { return s.c.Open(name) }
