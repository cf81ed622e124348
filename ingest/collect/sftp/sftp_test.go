package sftp_test

import (
	"crypto/ed25519"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/pkg/sftp"
	"golang.org/x/crypto/ssh"

	"wane/ingest/collect"
	"wane/ingest/collect/collecttest"
	own "wane/ingest/collect/sftp"
	"wane/ingest/source"
)

func make_(s collect.Setting) (any, error) { return own.New(s) }

// server is what the tests need of one.
type server interface {
	addr() string
	hostKey() string
	login() string // the description's lines that say who asks
	deny(t *testing.T, yes bool)
	restart(t *testing.T)
}

type counterpart struct {
	collecttest.Files
	s     server
	proxy *collecttest.Proxy
}

func (c *counterpart) Description(string) string {
	return fmt.Sprintf("name: x\nformat: plain\ncollect:\n  every: 1m\n  timeout: 2s\n  retries: 0\n  limit: 100kB\n  sftp:\n    address: %s\n    hostKey: %s\n    folder: %s\n    names: [\"*.csv\"]\n    settled: 0s\n%s",
		c.proxy.Addr, c.s.hostKey(), c.Dir, c.s.login())
}

func (c *counterpart) Break(t *testing.T, f collecttest.Fault) {
	switch f {
	case collecttest.Denied:
		c.s.deny(t, true)
	case collecttest.Huge:
		c.Huge(t, true)
	default:
		c.proxy.Break(f, collecttest.CutAt)
	}
}

func (c *counterpart) Mend(t *testing.T) {
	c.s.deny(t, false)
	c.Huge(t, false)
	c.proxy.Mend()
}

func (c *counterpart) Restart(t *testing.T) { c.s.restart(t) }

func factory(start func(t *testing.T) server) collecttest.Factory {
	return collecttest.Factory{
		Start: func(t *testing.T) collecttest.Counterpart {
			c := &counterpart{s: start(t), Files: collecttest.Files{Dir: t.TempDir()}}
			c.proxy = collecttest.StartProxy(t, c.s.addr())
			return c
		},
		Make: make_, Piecewise: true,
		Faults: []collecttest.Fault{collecttest.Slow, collecttest.Cut, collecttest.Denied, collecttest.Huge,
			collecttest.Down},
	}
}

// inProcess is a server as Go libraries.
type inProcess struct {
	ln   net.Listener
	key  ssh.Signer
	mu   sync.Mutex
	no   bool
	open map[net.Conn]bool
	done sync.WaitGroup
}

func startInProcess(t *testing.T) server {
	_, private, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	s := &inProcess{open: map[net.Conn]bool{}}
	if s.key, err = ssh.NewSignerFromKey(private); err != nil {
		t.Fatal(err)
	}
	if s.ln, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
		t.Fatal(err)
	}
	s.done.Go(s.accept)
	t.Cleanup(func() {
		s.ln.Close()
		s.restart(t)
		s.done.Wait()
	})
	return s
}

func (s *inProcess) addr() string { return s.ln.Addr().String() }
func (s *inProcess) hostKey() string {
	return strings.TrimSpace(string(ssh.MarshalAuthorizedKey(s.key.PublicKey())))
}
func (s *inProcess) login() string {
	return "    user: logger\n    password: env:" + collecttest.SecretEnv + "\n"
}

func (s *inProcess) deny(_ *testing.T, yes bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.no = yes
}

// restart ends its connections.
func (s *inProcess) restart(*testing.T) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for c := range s.open {
		c.Close()
	}
}

func (s *inProcess) accept() {
	conf := &ssh.ServerConfig{PasswordCallback: func(c ssh.ConnMetadata, password []byte) (*ssh.Permissions, error) {
		s.mu.Lock()
		defer s.mu.Unlock()
		if s.no || c.User() != "logger" || string(password) != collecttest.Secret {
			return nil, errors.New("no")
		}
		return nil, nil
	}}
	conf.AddHostKey(s.key)
	for {
		c, err := s.ln.Accept()
		if err != nil {
			return
		}
		s.mu.Lock()
		s.open[c] = true
		s.mu.Unlock()
		s.done.Go(func() { s.serve(c, conf) })
	}
}

func (s *inProcess) serve(c net.Conn, conf *ssh.ServerConfig) {
	defer func() {
		s.mu.Lock()
		delete(s.open, c)
		s.mu.Unlock()
		c.Close()
	}()
	_, chans, reqs, err := ssh.NewServerConn(c, conf)
	if err != nil {
		return
	}
	s.done.Go(func() { ssh.DiscardRequests(reqs) })
	for n := range chans {
		ch, in, err := n.Accept()
		if err != nil {
			return
		}
		s.done.Go(func() {
			for r := range in {
				_ = r.Reply(r.Type == "subsystem", nil)
			}
		})
		srv, err := sftp.NewServer(ch, sftp.ReadOnly())
		if err != nil {
			return
		}
		_ = srv.Serve()
		srv.Close()
	}
}

func TestConformance(t *testing.T) { collecttest.Run(t, factory(startInProcess)) }

func once(t *testing.T, dir, address, spec string) error {
	t.Helper()
	d, err := source.Load([]byte("name: x\nformat: plain\ncollect:\n  every: 1m\n  retries: 0\n  sftp:\n    address: "+
		address+"\n    user: logger\n    folder: "+dir+"\n"+spec), "x")
	if err != nil {
		t.Fatal(err)
	}
	r, err := collect.Open(collect.Options{Dir: dir, Zone: time.UTC, Make: make_, Now: time.Now}, d)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	return r.Once(t.Context())
}

// The server is the one whose key is known, or none: by its line, by known hosts,
// and in neither case another one's.
func TestHostKeyIsChecked(t *testing.T) {
	t.Setenv(collecttest.SecretEnv, collecttest.Secret)
	right, other := startInProcess(t), startInProcess(t)
	dir := t.TempDir()
	password := "    password: env:" + collecttest.SecretEnv + "\n"
	host, port, _ := net.SplitHostPort(right.addr())
	for name, line := range map[string]string{
		"known":   fmt.Sprintf("[%s]:%s %s\n", host, port, right.hostKey()),
		"another": fmt.Sprintf("[%s]:%s %s\n", host, port, other.hostKey()),
		"nobody":  "files.example " + right.hostKey() + "\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(line), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for spec, want := range map[string]string{
		"    hostKey: " + right.hostKey() + "\n": "",
		"    knownHosts: known\n":                "",
		"    hostKey: " + other.hostKey() + "\n": "another host key than the one that is known",
		"    knownHosts: another\n":              "another host key than the one that is known",
		"    knownHosts: nobody\n":               "has no line for",
	} {
		err := once(t, dir, right.addr(), spec+password)
		if (err == nil) != (want == "") || err != nil && (!strings.Contains(err.Error(), want) || !collect.IsRefused(err)) {
			t.Errorf("%s: %v", spec, err)
		}
	}
}
