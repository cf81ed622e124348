// Package ftp fetches new files from a folder on an FTP server, over TLS unless
// the description says plain.
//
// What is new, and what is left for the next time, is decided by package folder.
// FTP does not tell a file's end from a connection that broke off: the size that
// the folder lists does.
package ftp

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/textproto"
	"path"
	"sync"

	"github.com/jlaffaye/ftp"

	"wane/ingest/collect"
	"wane/ingest/collect/internal/folder"
	"wane/ingest/collect/internal/trust"
	"wane/ingest/source"
)

// Source is a folder. Make it with New.
type Source struct {
	set  collect.Setting
	spec *source.FTP
}

var _ collect.Poller = (*Source)(nil)

// New makes the source that its description's collect.ftp describes.
func New(set collect.Setting) (*Source, error) {
	return &Source{set: set, spec: set.Description.Collect.FTP}, nil
}

// Poll fetches what is new.
func (s *Source) Poll(ctx context.Context, box collect.Box) (err error) {
	password, err := s.set.Vault.Read(s.spec.Password)
	if err != nil {
		return collect.Refused(err)
	}
	lines := &lines{ctx: ctx, implicit: s.spec.Security == "implicit"}
	defer lines.close()
	defer func() {
		if err != nil && ctx.Err() != nil {
			err = ctx.Err() // not what its end broke
		}
	}()
	options := []ftp.DialOption{ftp.DialWithDialFunc(lines.dial)}
	if s.spec.Security != "plain" {
		if lines.tls, err = trust.Config(s.set.Dir, s.spec.TLS); err != nil {
			return collect.Refused(err)
		}
		lines.tls.ServerName, _, _ = net.SplitHostPort(s.spec.Address)
		// Many servers want the data's session to be the one of the commands.
		lines.tls.ClientSessionCache = tls.NewLRUClientSessionCache(4)
		if lines.implicit {
			options = append(options, ftp.DialWithTLS(lines.tls))
		} else {
			options = append(options, ftp.DialWithExplicitTLS(lines.tls))
		}
	}
	stop := context.AfterFunc(ctx, lines.close)
	defer stop()
	c, err := ftp.Dial(s.spec.Address, options...)
	if err != nil {
		return trust.Refused(fmt.Errorf("connect to %s: %w", s.spec.Address, err))
	}
	defer func() { _ = c.Quit() }()
	if err := c.Login(s.spec.User, password); err != nil {
		var answer *textproto.Error
		if errors.As(err, &answer) && answer.Code == ftp.StatusNotLoggedIn {
			return collect.Refused(fmt.Errorf("%s refuses user or password", s.spec.Address))
		}
		return trust.Refused(fmt.Errorf("log in at %s: %w", s.spec.Address, err))
	}
	rule := folder.Rule{Names: s.spec.Names, Settled: s.spec.Settled.Std(), First: s.set.Description.Collect.First.Std(),
		Now: s.set.Now()}
	return folder.Fetch(ctx, &shelf{c, s.spec.Folder}, rule, box)
}

// lines are the connections of one poll: that of the commands, then one for each
// list and file.
type lines struct {
	ctx      context.Context
	tls      *tls.Config // nil: unencrypted
	implicit bool

	mu  sync.Mutex
	all []net.Conn
}

// dial makes the next one. All of them end with the context.
func (l *lines) dial(network, address string) (net.Conn, error) {
	var d net.Dialer
	conn, err := d.DialContext(l.ctx, network, address)
	if err != nil {
		return nil, err
	}
	if end, ok := l.ctx.Deadline(); ok {
		if err := conn.SetDeadline(end); err != nil {
			return nil, errors.Join(err, conn.Close())
		}
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	commands := len(l.all) == 0
	l.all = append(l.all, conn)
	if l.tls != nil && (!commands || l.implicit) { // explicit: the library asks for it on the first
		return tls.Client(conn, l.tls), nil
	}
	return conn, nil
}

func (l *lines) close() {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, c := range l.all {
		c.Close()
	}
}

type shelf struct {
	c   *ftp.ServerConn
	dir string
}

func (s *shelf) List(context.Context) ([]folder.Entry, error) {
	list, err := s.c.List(s.dir)
	if err != nil {
		return nil, fmt.Errorf("list %q: %w", s.dir, err)
	}
	var out []folder.Entry
	for _, f := range list {
		if f.Type == ftp.EntryTypeFile {
			out = append(out, folder.Entry{Name: path.Join(s.dir, path.Base(f.Name)), Size: int64(f.Size), Time: f.Time})
		}
	}
	return out, nil
}

func (s *shelf) Open(_ context.Context, name string) (io.ReadCloser, error) { return s.c.Retr(name) }
