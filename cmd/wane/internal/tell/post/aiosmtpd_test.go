//go:build counterparts

package post

import (
	"bufio"
	"context"
	"crypto/x509"
	"encoding/pem"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"wane/ingest/site"
	"wane/ingest/source"
)

// realServer is aiosmtpd, in a process of its own.
type realServer struct {
	dir  string
	port int
	end  func()
}

func startReal(t *testing.T, dir, word string) *realServer {
	t.Helper()
	cmd := exec.Command("/usr/bin/python3", "testdata/smtpd.py", dir, mailUser, word)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var said strings.Builder
	cmd.Stderr = &said
	if err := cmd.Start(); err != nil {
		t.Fatalf("%v; .ci/run says which Debian packages the counterparts need", err)
	}
	s := &realServer{dir: dir, end: func() {
		in.Close()
		if err := cmd.Wait(); err != nil {
			t.Errorf("%v: %s", err, &said)
		}
	}}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatalf("%v: %s", err, &said)
	}
	if s.port, err = strconv.Atoi(strings.TrimSpace(line)); err != nil {
		t.Fatal(err)
	}
	return s
}

func (s *realServer) mails(t *testing.T) []string {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(s.dir, "*.eml"))
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, p := range paths {
		b, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, string(b))
	}
	return out
}

// A real mail server takes what we send: with login over STARTTLS; not with a wrong
// word, nor before it is there, and after a restart what waited, each mail once.
func TestRealMailServer(t *testing.T) {
	f := folder(t)
	dir := t.TempDir()
	cert := certificate(t, string(f)) // which writes ca.pem
	key, err := x509.MarshalPKCS8PrivateKey(cert.PrivateKey)
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string]*pem.Block{
		"cert.pem": {Type: "CERTIFICATE", Bytes: cert.Certificate[0]}, "key.pem": {Type: "PRIVATE KEY", Bytes: key},
	} {
		if err := os.WriteFile(filepath.Join(dir, name), pem.EncodeToMemory(b), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	set := &site.Mail{
		Host: "127.0.0.1", Security: "starttls", User: mailUser, Password: source.Secret{File: "word"}, CA: "ca.pem",
		From: "wane@example.org", To: []string{"grower@example.org"}, Attach: true,
	}
	now := noon
	deliver := func(want string) {
		t.Helper()
		err := Deliver(context.Background(), f, Channels(f, site.Tell{Mail: set}), func() time.Time { return now })
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) || err != nil &&
			strings.Contains(err.Error(), "xyzzy") {
			t.Errorf("at %s: %v, want %q", now, err, want)
		}
		now = now.Add(mostWaitOfTest)
	}

	s := startReal(t, dir, "another word")
	set.Port = s.port
	told(t, f)
	deliver("535")
	s.end()
	deliver("refused")
	s = startReal(t, dir, mailWord)
	set.Port = s.port
	set.CA = ""
	deliver("certificate")
	set.CA = "ca.pem"
	deliver("")
	deliver("")
	s.end()
	got := s.mails(t)
	if len(got) != 2 || len(outbox(t, f)) != 0 {
		t.Fatalf("%d mails, %d wait", len(got), len(outbox(t, f)))
	}
	if !strings.Contains(got[0], "Invented_site:_logger_silent") || !strings.Contains(got[1], "report.html") ||
		strings.Contains(got[0]+got[1], "xyzzy") {
		t.Errorf("%s", got)
	}
}

// mostWaitOfTest is longer than any wait between tries.
const mostWaitOfTest = 7 * time.Hour
