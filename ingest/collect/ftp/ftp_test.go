package ftp_test

import (
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	ftpserver "github.com/fclairamb/ftpserverlib"
	"github.com/spf13/afero"

	"wane/ingest/collect"
	"wane/ingest/collect/collecttest"
	own "wane/ingest/collect/ftp"
	"wane/ingest/source"
)

func make_(s collect.Setting) (any, error) { return own.New(s) }

// server is what the tests need of one.
type server interface {
	addr() string
	ca() string
	user() string
	deny(t *testing.T, yes bool)
	restart(t *testing.T)
}

type counterpart struct {
	collecttest.Files
	s        server
	proxy    *collecttest.Proxy
	security string
}

func (c *counterpart) Description(string) string {
	more := "    tls: {ca: " + c.s.ca() + "}\n"
	if c.security == "plain" {
		more = ""
	}
	return fmt.Sprintf("name: x\nformat: plain\ncollect:\n  every: 1m\n  timeout: 3s\n  retries: 0\n  limit: 100kB\n  ftp:\n    address: %s\n    user: %s\n    password: env:%s\n    security: %s\n    folder: /\n    settled: 0s\n%s",
		c.proxy.Addr, c.s.user(), collecttest.SecretEnv, c.security, more)
}

func (c *counterpart) Break(t *testing.T, f collecttest.Fault) {
	switch f {
	case collecttest.Denied:
		c.s.deny(t, true)
	case collecttest.Huge:
		c.Huge(t, true)
	default:
		c.proxy.Break(f, 100) // of the commands' connection: files have one of their own
	}
}

func (c *counterpart) Mend(t *testing.T) {
	c.s.deny(t, false)
	c.Huge(t, false)
	c.proxy.Mend()
}

func (c *counterpart) Restart(t *testing.T) { c.s.restart(t) }

func factory(security string, start func(t *testing.T, dir, security string) server) collecttest.Factory {
	return collecttest.Factory{
		Start: func(t *testing.T) collecttest.Counterpart {
			dir := t.TempDir()
			c := &counterpart{s: start(t, dir, security), Files: collecttest.Files{Dir: dir}, security: security}
			c.proxy = collecttest.StartProxy(t, c.s.addr())
			return c
		},
		Make: make_, Piecewise: true,
		Faults: []collecttest.Fault{collecttest.Slow, collecttest.Cut, collecttest.Denied, collecttest.Huge,
			collecttest.Down},
	}
}

// inProcess is a server as a Go library.
type inProcess struct {
	at, dir, cert string
	tls           *tls.Config
	how           ftpserver.TLSRequirement
	srv           *ftpserver.FtpServer
	done          sync.WaitGroup

	mu    sync.Mutex
	no    bool
	short bool // files end early, without a word
	open  []ftpserver.ClientContext
}

func startInProcess(t *testing.T, dir, security string) server {
	s := &inProcess{dir: dir, how: map[string]ftpserver.TLSRequirement{"plain": ftpserver.ClearOrEncrypted,
		"explicit": ftpserver.MandatoryEncryption, "implicit": ftpserver.ImplicitEncryption}[security]}
	var key string
	s.cert, key = collecttest.Certificate(t, t.TempDir())
	pair, err := tls.LoadX509KeyPair(s.cert, key)
	if err != nil {
		t.Fatal(err)
	}
	s.tls = &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}
	s.listen(t, "127.0.0.1:0")
	t.Cleanup(func() { s.stop(t) })
	return s
}

func (s *inProcess) listen(t *testing.T, at string) {
	t.Helper()
	s.at = at
	s.srv = ftpserver.NewFtpServer(s)
	if err := s.srv.Listen(); err != nil {
		t.Fatal(err)
	}
	s.at = s.srv.Addr()
	s.done.Go(func() { _ = s.srv.Serve() })
}

func (s *inProcess) stop(t *testing.T) {
	t.Helper()
	if err := s.srv.Stop(); err != nil {
		t.Error(err)
	}
	s.mu.Lock()
	for _, c := range s.open {
		_ = c.Close()
	}
	s.mu.Unlock()
	s.done.Wait()
}

func (s *inProcess) GetSettings() (*ftpserver.Settings, error) {
	return &ftpserver.Settings{ListenAddr: s.at, PublicHost: "127.0.0.1", TLSRequired: s.how, ConnectionTimeout: 2}, nil
}

func (s *inProcess) ClientConnected(c ftpserver.ClientContext) (string, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.open = append(s.open, c)
	return "counterpart", nil
}

func (s *inProcess) ClientDisconnected(ftpserver.ClientContext) {}

func (s *inProcess) AuthUser(_ ftpserver.ClientContext, user, pass string) (ftpserver.ClientDriver, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.no || user != "logger" || pass != collecttest.Secret {
		return nil, errors.New("no")
	}
	files := afero.NewReadOnlyFs(afero.NewBasePathFs(afero.NewOsFs(), s.dir))
	if s.short {
		files = cutFs{files}
	}
	return files, nil
}

func (s *inProcess) GetTLSConfig() (*tls.Config, error) { return s.tls, nil }

func (s *inProcess) addr() string { return s.at }
func (s *inProcess) ca() string   { return s.cert }
func (s *inProcess) user() string { return "logger" }

func (s *inProcess) deny(_ *testing.T, yes bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.no = yes
}

func (s *inProcess) restart(t *testing.T) {
	s.stop(t)
	s.listen(t, s.at)
}

// cutFs ends each file in its middle, as a connection does that breaks off.
type cutFs struct{ afero.Fs }

func (c cutFs) Open(name string) (afero.File, error) { return c.OpenFile(name, os.O_RDONLY, 0) }

func (c cutFs) OpenFile(name string, flag int, mode os.FileMode) (afero.File, error) {
	f, err := c.Fs.OpenFile(name, flag, mode)
	if err != nil {
		return nil, err
	}
	if st, err := f.Stat(); err == nil && !st.IsDir() {
		return cutFile{f, io.LimitReader(f, st.Size()/2)}, nil
	}
	return f, nil
}

type cutFile struct {
	afero.File
	r io.Reader
}

func (c cutFile) Read(p []byte) (int, error)         { return c.r.Read(p) }
func (c cutFile) WriteTo(w io.Writer) (int64, error) { return io.Copy(w, c.r) }

func TestConformance(t *testing.T) {
	for _, security := range []string{"explicit", "implicit", "plain"} {
		t.Run(security, func(t *testing.T) { collecttest.Run(t, factory(security, startInProcess)) })
	}
}

func load(t *testing.T, text string) *source.Description {
	t.Helper()
	d, err := source.Load([]byte(text), "x")
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func once(t *testing.T, dir string, d *source.Description) error {
	t.Helper()
	r, err := collect.Open(collect.Options{Dir: dir, Zone: time.UTC, Make: make_, Now: time.Now}, d)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	return r.Once(t.Context())
}

// FTP tells no end of a file from a broken connection; the listed size does.
func TestFileThatEndsEarlyIsNotKept(t *testing.T) {
	t.Setenv(collecttest.SecretEnv, collecttest.Secret)
	f := factory("explicit", startInProcess)
	c := f.Start(t).(*counterpart)
	c.Offer(t, collecttest.Rows(0, 5)...)
	c.s.(*inProcess).short = true
	dir := t.TempDir()
	if err := once(t, dir, load(t, c.Description(dir))); err == nil ||
		!strings.Contains(err.Error(), "not as long as the folder says") {
		t.Error(err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "spool", "x", "2*")); len(left) != 0 {
		t.Error(left)
	}
	c.s.(*inProcess).short = false
	if err := once(t, dir, load(t, c.Description(dir))); err != nil {
		t.Error(err)
	}
}

// A certificate that is not named is refused before the password is sent.
func TestCertificateIsChecked(t *testing.T) {
	t.Setenv(collecttest.SecretEnv, collecttest.Secret)
	c := factory("explicit", startInProcess).Start(t).(*counterpart)
	host, _, _ := net.SplitHostPort(c.proxy.Addr)
	text := strings.Replace(c.Description(""), "tls: {ca: "+c.s.ca()+"}", "retry: x", 1)
	text = strings.Replace(text, "    retry: x\n", "", 1)
	if err := once(t, t.TempDir(), load(t, text)); !collect.IsRefused(err) || !strings.Contains(err.Error(), "tls.ca") {
		t.Error(host, err)
	}
	if err := once(t, t.TempDir(), load(t, text+"    tls: {certificates: unchecked}\n")); err != nil {
		t.Error(err)
	}
}
