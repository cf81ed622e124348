//go:build counterparts

package ftp_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"wane/ingest/collect/collecttest"
)

// vsftpd is Debian's. It lets anonymous in by a list of passwords, so that no user
// of this machine is needed, and only over TLS.
type vsftpd struct {
	at, conf, cert string
	p              *collecttest.Process
}

func startVsftpd(t *testing.T, dir, _ string) server {
	s := &vsftpd{at: collecttest.FreePort(t), conf: t.TempDir()}
	var key string
	s.cert, key = collecttest.Certificate(t, s.conf)
	if err := os.MkdirAll("/var/run/vsftpd/empty", 0o755); err != nil { // its secure_chroot_dir
		t.Fatal(err)
	}
	s.deny(t, false)
	_, port, _ := strings.Cut(s.at, ":")
	conf := fmt.Sprintf(`listen=YES
listen_address=127.0.0.1
listen_port=%s
background=NO
anonymous_enable=YES
anon_root=%s
anon_world_readable_only=NO
secure_email_list_enable=YES
email_password_file=%s/passwords
local_enable=NO
ssl_enable=YES
allow_anon_ssl=YES
force_anon_logins_ssl=YES
force_anon_data_ssl=YES
rsa_cert_file=%s
rsa_private_key_file=%s
ssl_ciphers=HIGH
seccomp_sandbox=NO
isolate=NO
isolate_network=NO
`, port, dir, s.conf, s.cert, key)
	if err := os.WriteFile(filepath.Join(s.conf, "conf"), []byte(conf), 0o600); err != nil {
		t.Fatal(err)
	}
	s.p = collecttest.StartProcess(t, s.at, func() *exec.Cmd {
		return exec.Command("/usr/sbin/vsftpd",
			filepath.Join(s.conf, "conf"))
	})
	return s
}

func (s *vsftpd) addr() string { return s.at }
func (s *vsftpd) ca() string   { return s.cert }
func (s *vsftpd) user() string { return "anonymous" }

func (s *vsftpd) deny(t *testing.T, yes bool) {
	t.Helper()
	password := collecttest.Secret
	if yes {
		password = "another"
	}
	if err := os.WriteFile(filepath.Join(s.conf, "passwords"), []byte(password+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
}

func (s *vsftpd) restart(*testing.T) {
	s.p.Stop()
	s.p.Start()
}

func TestRealVsftpd(t *testing.T) { collecttest.Run(t, factory("explicit", startVsftpd)) }
