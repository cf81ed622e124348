package collecttest

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"
)

// Process is a real server that a test starts and ends.
type Process struct {
	t    *testing.T
	addr string
	cmd  func() *exec.Cmd

	mu      sync.Mutex
	running *exec.Cmd
	said    *bytes.Buffer
}

// StartProcess starts a server and waits until it takes connections at addr. A
// server that is not installed fails the test: .ci/run installs it.
func StartProcess(t *testing.T, addr string, cmd func() *exec.Cmd) *Process {
	t.Helper()
	p := &Process{t: t, addr: addr, cmd: cmd}
	p.Start()
	t.Cleanup(p.Stop)
	return p
}

// Start starts it again.
func (p *Process) Start() {
	p.t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	p.running, p.said = p.cmd(), &bytes.Buffer{}
	p.running.Stdout, p.running.Stderr = p.said, p.said
	// Its children (a session's server) go with it.
	p.running.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
	if err := p.running.Start(); err != nil {
		p.t.Fatalf("%v; .ci/run says which Debian packages the counterparts need", err)
	}
	for until := time.Now().Add(20 * time.Second); ; {
		c, err := net.Dial("tcp", p.addr)
		if err == nil {
			c.Close()
			return
		}
		if time.Now().After(until) {
			p.t.Fatalf("%v takes no connection: %v\n%s", p.running.Args, err, p.said)
		}
		<-time.After(20 * time.Millisecond)
	}
}

// Stop ends it and waits for that.
func (p *Process) Stop() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.running == nil {
		return
	}
	_ = p.running.Process.Signal(syscall.SIGTERM)
	end := time.AfterFunc(5*time.Second, func() { _ = syscall.Kill(-p.running.Process.Pid, syscall.SIGKILL) })
	_ = p.running.Wait()
	end.Stop()
	_ = syscall.Kill(-p.running.Process.Pid, syscall.SIGKILL) // what it started
	p.running = nil
}

// Signal sends it a signal.
func (p *Process) Signal(s os.Signal) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := p.running.Process.Signal(s); err != nil {
		p.t.Fatal(err)
	}
}

// FreePort gives an address of this machine on which nothing listens.
func FreePort(t *testing.T) string {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	return ln.Addr().String()
}

// Certificate writes a certificate for 127.0.0.1, signed by itself, and its key.
func Certificate(t *testing.T, dir string) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	is := x509.Certificate{
		SerialNumber: big.NewInt(now.UnixNano()), Subject: pkix.Name{CommonName: "counterpart"},
		NotBefore: now.Add(-time.Hour), NotAfter: now.Add(time.Hour), IsCA: true, BasicConstraintsValid: true,
		KeyUsage:    x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, DNSNames: []string{"localhost"},
	}
	der, err := x509.CreateCertificate(rand.Reader, &is, &is, &private.PublicKey, private)
	if err != nil {
		t.Fatal(err)
	}
	pkcs, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	write := func(name, kind string, der []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	return write("cert.pem", "CERTIFICATE", der), write("key.pem", "PRIVATE KEY", pkcs)
}
