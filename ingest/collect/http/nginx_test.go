//go:build counterparts

package http_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"wane/ingest/collect/collecttest"
)

// nginx is Debian's: it serves a file over TLS, by basic authentication, with its
// own ETags.
type nginx struct {
	at, dir, cert string
	rows          []collecttest.Reading
	p             *collecttest.Process
	proxy         *collecttest.Proxy
}

func startNginx(t *testing.T) collecttest.Counterpart {
	s := &nginx{at: collecttest.FreePort(t), dir: t.TempDir()}
	var key string
	s.cert, key = collecttest.Certificate(t, s.dir)
	for p := s.dir; p != os.TempDir() && p != "/"; p = filepath.Dir(p) {
		if err := os.Chmod(p, 0o755); err != nil { // its workers are of another user
			t.Fatal(err)
		}
	}
	s.users(t, collecttest.Secret)
	conf := fmt.Sprintf(`daemon off;
pid %[1]s/pid;
error_log stderr;
worker_processes 1;
events {}
http {
  access_log off;
  client_body_temp_path %[1]s/body;
  proxy_temp_path %[1]s/proxy;
  fastcgi_temp_path %[1]s/fastcgi;
  uwsgi_temp_path %[1]s/uwsgi;
  scgi_temp_path %[1]s/scgi;
  server {
    listen %[2]s ssl;
    ssl_certificate %[3]s;
    ssl_certificate_key %[4]s;
    root %[1]s;
    location = /readings.csv {
      auth_basic readings;
      auth_basic_user_file %[1]s/users;
    }
  }
}
`, s.dir, s.at, s.cert, key)
	s.write(t, "conf", conf)
	s.write(t, "readings.csv", "time,sensor,channel,value\n")
	s.p = collecttest.StartProcess(t, s.at, func() *exec.Cmd {
		return exec.Command("/usr/sbin/nginx", "-c", filepath.Join(s.dir, "conf"), "-p", s.dir)
	})
	s.proxy = collecttest.StartProxy(t, s.at)
	return s
}

func (s *nginx) write(t *testing.T, name, text string) {
	t.Helper()
	tmp := filepath.Join(s.dir, name+".new")
	if err := os.WriteFile(tmp, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(tmp, filepath.Join(s.dir, name)); err != nil {
		t.Fatal(err)
	}
}

// users writes who may log in, in nginx's plain form.
func (s *nginx) users(t *testing.T, password string) {
	t.Helper()
	s.write(t, "users", "logger:{PLAIN}"+password+"\n")
}

func (s *nginx) Description(string) string {
	return fmt.Sprintf("name: x\nformat: plain\ncollect:\n  every: 1m\n  timeout: 2s\n  retries: 0\n  limit: 100kB\n  http:\n    url: https://%s/readings.csv\n    user: logger\n    password: env:%s\n    tls: {ca: %s}\n",
		s.proxy.Addr, collecttest.SecretEnv, s.cert)
}

func (s *nginx) Offer(t *testing.T, r ...collecttest.Reading) {
	s.rows = append(s.rows, r...)
	s.write(t, "readings.csv", collecttest.Text(s.rows))
}

func (s *nginx) Again(t *testing.T) { s.write(t, "readings.csv", collecttest.Text(s.rows)) }

func (s *nginx) Break(t *testing.T, f collecttest.Fault) {
	switch f {
	case collecttest.Denied:
		s.users(t, "another")
	case collecttest.Huge:
		s.write(t, "readings.csv", collecttest.Text(collecttest.Rows(0, 100)))
	case collecttest.Garbage:
		s.write(t, "readings.csv", "<html><title>Under maintenance</title></html>\n")
	default:
		s.proxy.Break(f, collecttest.CutAt)
	}
}

func (s *nginx) Mend(t *testing.T) {
	s.users(t, collecttest.Secret)
	s.write(t, "readings.csv", collecttest.Text(s.rows))
	s.proxy.Mend()
}

func (s *nginx) Restart(*testing.T) {
	s.p.Signal(syscall.SIGTERM)
	s.p.Stop()
	s.p.Start()
}

func TestRealNginx(t *testing.T) {
	collecttest.Run(t, collecttest.Factory{
		Start: startNginx, Make: make_,
		Faults: []collecttest.Fault{collecttest.Slow, collecttest.Cut, collecttest.Denied, collecttest.Garbage,
			collecttest.Huge, collecttest.Down},
	})
}
