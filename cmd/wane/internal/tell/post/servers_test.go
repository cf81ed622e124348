package post

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"io"
	"log"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"wane/ingest/site"
	"wane/ingest/source"
)

// postbox is a mail server on 127.0.0.1 that keeps what it gets.
type postbox struct {
	mu     sync.Mutex
	mails  []string
	refuse int // so many mails are refused
	cut    int // so many connections are cut in the middle of the mail
	port   int
}

const (
	mailUser = "wane"
	mailWord = "xyzzy-mail"
)

// certificate makes one for 127.0.0.1, and writes it where site.yaml can name it.
func certificate(t *testing.T, dir string) tls.Certificate {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "invented"},
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		NotBefore:   time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true,
		KeyUsage:    x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	der, err := x509.CreateCertificate(rand.Reader, c, c, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	text := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	if err := os.WriteFile(filepath.Join(dir, "ca.pem"), text, 0o644); err != nil {
		t.Fatal(err)
	}
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}
}

func newPostbox(t *testing.T, dir string) *postbox {
	t.Helper()
	b := &postbox{}
	s := smtp.NewServer(b)
	s.Domain = "localhost"
	s.ErrorLog = log.New(io.Discard, "", 0)
	s.TLSConfig = &tls.Config{Certificates: []tls.Certificate{certificate(t, dir)}}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b.port = l.Addr().(*net.TCPAddr).Port
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(l) }()
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		if err := <-ended; err != nil && !errors.Is(err, smtp.ErrServerClosed) {
			t.Error(err)
		}
	})
	return b
}

// mail is how site.yaml speaks of this server.
func (b *postbox) mail() *site.Mail {
	return &site.Mail{
		Host: "127.0.0.1", Port: b.port, Security: "starttls", User: mailUser, Password: source.Secret{File: "word"},
		From: "wane@example.org", To: []string{"a@example.org", "b@example.org"}, CA: "ca.pem",
	}
}

func (b *postbox) got() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return append([]string(nil), b.mails...)
}

// NewSession is a client's connection.
func (b *postbox) NewSession(c *smtp.Conn) (smtp.Session, error) {
	return &session{box: b, conn: c}, nil
}

type session struct {
	box    *postbox
	conn   *smtp.Conn
	logged bool
}

func (s *session) AuthMechanisms() []string { return []string{sasl.Plain} }

func (s *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, word string) error {
		if user != mailUser || word != mailWord {
			return errors.New("wrong login " + word) // a careless server that repeats it
		}
		s.logged = true
		return nil
	}), nil
}

func (s *session) Mail(string, *smtp.MailOptions) error {
	if _, secure := s.conn.TLSConnectionState(); !secure || !s.logged {
		return errors.New("log in over TLS first")
	}
	return nil
}

func (s *session) Rcpt(string, *smtp.RcptOptions) error { return nil }

func (s *session) Data(r io.Reader) error {
	s.box.mu.Lock()
	defer s.box.mu.Unlock()
	if s.box.cut > 0 {
		s.box.cut--
		return s.conn.Conn().Close()
	}
	if s.box.refuse > 0 {
		s.box.refuse--
		return &smtp.SMTPError{Code: 451, Message: "try again later"}
	}
	text, err := io.ReadAll(r)
	s.box.mails = append(s.box.mails, string(text))
	return err
}

func (s *session) Reset()        {}
func (s *session) Logout() error { return nil }
