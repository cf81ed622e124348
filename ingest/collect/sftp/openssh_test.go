//go:build counterparts

package sftp_test

import (
	"crypto/ed25519"
	"crypto/rand"
	"encoding/pem"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strings"
	"testing"

	"wane/ingest/collect/collecttest"

	"golang.org/x/crypto/ssh"
)

// openSSH is Debian's sshd with its own sftp-server, which lets a key in.
type openSSH struct {
	at, dir, host string
	p             *collecttest.Process
}

func startOpenSSH(t *testing.T) server {
	s := &openSSH{at: collecttest.FreePort(t), dir: t.TempDir()}
	if err := os.MkdirAll("/run/sshd", 0o755); err != nil { // sshd wants it, whatever its configuration
		t.Fatal(err)
	}
	public := keyFile(t, filepath.Join(s.dir, "key"))
	s.host = strings.TrimSpace(keyFile(t, filepath.Join(s.dir, "host")))
	s.write(t, "allowed", public)
	_, port, _ := strings.Cut(s.at, ":")
	s.write(t, "conf", fmt.Sprintf(`ListenAddress 127.0.0.1
Port %s
HostKey %s/host
AuthorizedKeysFile %s/allowed
PidFile none
StrictModes no
UsePAM no
PasswordAuthentication no
PermitRootLogin prohibit-password
Subsystem sftp /usr/lib/openssh/sftp-server -R
`, port, s.dir, s.dir))
	s.p = collecttest.StartProcess(t, s.at, func() *exec.Cmd {
		return exec.Command("/usr/sbin/sshd", "-D", "-e", "-f", filepath.Join(s.dir, "conf"))
	})
	return s
}

func (s *openSSH) write(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(s.dir, name), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func (s *openSSH) addr() string    { return s.at }
func (s *openSSH) hostKey() string { return s.host }

func (s *openSSH) login() string {
	me, err := user.Current()
	if err != nil {
		panic(err)
	}
	return fmt.Sprintf("    user: %s\n    key: file:%s/key\n", me.Username, s.dir)
}

func (s *openSSH) deny(t *testing.T, yes bool) {
	from, to := "allowed", "denied"
	if !yes {
		from, to = to, from
	}
	if err := os.Rename(filepath.Join(s.dir, from), filepath.Join(s.dir, to)); err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
}

func (s *openSSH) restart(*testing.T) {
	s.p.Stop()
	s.p.Start()
}

func TestRealOpenSSH(t *testing.T) { collecttest.Run(t, factory(startOpenSSH)) }

// keyFile makes a key, and gives what a server wants of it.
func keyFile(t *testing.T, path string) (public string) {
	t.Helper()
	pub, private, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	block, err := ssh.MarshalPrivateKey(private, "")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
		t.Fatal(err)
	}
	k, err := ssh.NewPublicKey(pub)
	if err != nil {
		t.Fatal(err)
	}
	return string(ssh.MarshalAuthorizedKey(k))
}
