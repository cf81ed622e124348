package push

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"wane/ingest/collect/internal/trust"
)

// prefix is where the sources are reached.
const prefix = "/push/"

// Times after which a sender that dawdles is let go, so that many of them cannot
// hold the listener. A body may take as long as its source's time-out.
const (
	headerTime = 10 * time.Second
	idleTime   = time.Minute
	endTime    = 5 * time.Second
)

// Hub holds the listeners of all sources that are sent to, one an address.
type Hub struct {
	mu sync.Mutex
	at map[string]*listener
}

// NewHub makes an empty one.
func NewHub() *Hub { return &Hub{at: map[string]*listener{}} }

type listener struct {
	addr        string
	server      *http.Server
	done        chan struct{}
	mu          sync.Mutex
	sources     map[string]*Source
	ended       map[string]chan error
	certificate string
}

// join opens the source's address where it is not open, and has it answer for the
// source until leave is called; ended tells that the listener failed.
func (h *Hub) join(s *Source) (ended <-chan error, leave func(), err error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	l := h.at[s.spec.Listen]
	if l == nil {
		if l, err = h.open(s); err != nil {
			return nil, nil, err
		}
	} else if l.certificate != s.spec.Cert {
		return nil, nil, fmt.Errorf("another source listens at %s with another certificate; write the same collect.push.cert, or another address", s.spec.Listen)
	}
	name := s.set.Description.Name
	ch := make(chan error, 1)
	l.mu.Lock()
	l.sources[name], l.ended[name] = s, ch
	l.mu.Unlock()
	return ch, func() { h.leave(l, name) }, nil
}

func (h *Hub) open(s *Source) (*listener, error) {
	ln, err := net.Listen("tcp", s.spec.Listen)
	if err != nil {
		return nil, fmt.Errorf("listen at %s: %w", s.spec.Listen, err)
	}
	l := &listener{addr: s.spec.Listen, certificate: s.spec.Cert, done: make(chan struct{}), sources: map[string]*Source{},
		ended: map[string]chan error{}}
	if s.spec.Cert != "" {
		pair, err := tls.LoadX509KeyPair(trust.Path(s.set.Dir, s.spec.Cert), trust.Path(s.set.Dir, s.spec.CertKey))
		if err != nil {
			return nil, errors.Join(fmt.Errorf("read the certificate of %s: %w", s.spec.Listen, err), ln.Close())
		}
		ln = tls.NewListener(ln, &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12})
	}
	l.server = &http.Server{Handler: l, ReadHeaderTimeout: headerTime, IdleTimeout: idleTime, MaxHeaderBytes: 16 << 10}
	h.at[s.spec.Listen] = l
	go func() {
		defer close(l.done)
		err := l.server.Serve(ln)
		l.mu.Lock()
		defer l.mu.Unlock()
		for _, ch := range l.ended {
			ch <- fmt.Errorf("listen at %s: %w", l.addr, err)
		}
	}()
	return l, nil
}

// leave takes a source off its listener, and ends that with the last one.
func (h *Hub) leave(l *listener, name string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	l.mu.Lock()
	delete(l.sources, name)
	delete(l.ended, name)
	last := len(l.sources) == 0
	l.mu.Unlock()
	if !last {
		return
	}
	delete(h.at, l.addr)
	ctx, cancel := context.WithTimeout(context.Background(), endTime)
	defer cancel()
	if l.server.Shutdown(ctx) != nil {
		l.server.Close()
	}
	<-l.done
}

// ServeHTTP hands a request to its source. What is no source is told like a wrong
// token, so that names cannot be tried out.
func (l *listener) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	name, _, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, prefix), "/")
	l.mu.Lock()
	s := l.sources[name]
	l.mu.Unlock()
	if s == nil || !strings.HasPrefix(r.URL.Path, prefix) {
		w.Header().Set("WWW-Authenticate", "Bearer")
		http.Error(w, "the token of this source is wanted as Authorization: Bearer", http.StatusUnauthorized)
		return
	}
	// The sender's pace is the source's affair from here on.
	if err := http.NewResponseController(w).SetReadDeadline(time.Now().Add(s.set.Description.Collect.Timeout.Std())); err != nil {
		http.Error(w, "this connection knows no end", http.StatusInternalServerError)
		return
	}
	s.ServeHTTP(w, r)
}
