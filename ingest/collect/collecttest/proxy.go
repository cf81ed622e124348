package collecttest

import (
	"io"
	"net"
	"sync"
	"testing"
)

// Proxy stands between a source and a real server, and makes it slow or breaks
// its answers off.
type Proxy struct {
	Addr string // host:port on which it listens

	to    string
	ln    net.Listener
	mu    sync.Mutex
	fault Fault
	after int
	conns map[net.Conn]bool
	done  sync.WaitGroup
}

// StartProxy starts one on a free port of this machine; it ends with the test.
func StartProxy(t *testing.T, to string) *Proxy {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &Proxy{Addr: ln.Addr().String(), to: to, ln: ln, conns: map[net.Conn]bool{}}
	p.done.Go(p.accept)
	t.Cleanup(func() {
		ln.Close()
		p.drop()
		p.done.Wait()
	})
	return p
}

// Break makes it misbehave: Slow says nothing that the server says, Cut ends the
// connection after so many bytes of it, Down takes no connection.
func (p *Proxy) Break(f Fault, after int) {
	p.mu.Lock()
	p.fault, p.after = f, after
	p.mu.Unlock()
	p.drop()
}

// Mend ends that.
func (p *Proxy) Mend() { p.Break("", 0) }

// drop ends all connections.
func (p *Proxy) drop() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for c := range p.conns {
		c.Close()
	}
}

func (p *Proxy) accept() {
	for {
		c, err := p.ln.Accept()
		if err != nil {
			return
		}
		p.mu.Lock()
		fault, after := p.fault, p.after
		p.conns[c] = true
		p.mu.Unlock()
		if fault == Down {
			c.Close()
			continue
		}
		s, err := net.Dial("tcp", p.to)
		if err != nil {
			c.Close()
			continue
		}
		p.mu.Lock()
		p.conns[s] = true
		p.mu.Unlock()
		p.done.Go(func() { // what the source says
			_, _ = io.Copy(s, c)
			p.end(s, c)
		})
		p.done.Go(func() { // what the server says
			switch fault {
			case Slow:
				_, _ = io.Copy(io.Discard, s)
			case Cut:
				_, _ = io.CopyN(c, s, int64(after))
			default:
				_, _ = io.Copy(c, s)
			}
			p.end(s, c)
		})
	}
}

func (p *Proxy) end(conns ...net.Conn) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, c := range conns {
		c.Close()
		delete(p.conns, c)
	}
}
