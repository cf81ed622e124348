package push_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"wane/ingest/collect"
	"wane/ingest/collect/collecttest"
	"wane/ingest/collect/push"
	"wane/ingest/source"
)

func maker() collect.Make {
	hub := push.NewHub()
	return func(s collect.Setting) (any, error) { return push.New(s, hub) }
}

// logger posts what is offered until it is answered 2xx.
type logger struct {
	addr string
	stop context.CancelFunc
	done sync.WaitGroup
	web  http.Client

	mu    sync.Mutex
	wait  []string // bodies that are not acknowledged
	last  string
	fault collecttest.Fault
}

func start(t *testing.T) collecttest.Counterpart {
	ctx, stop := context.WithCancel(context.Background())
	l := &logger{addr: collecttest.FreePort(t), stop: stop,
		web: http.Client{Transport: &http.Transport{DisableKeepAlives: true}}}
	l.done.Go(func() { l.send(ctx) })
	t.Cleanup(func() {
		stop()
		l.done.Wait()
	})
	return l
}

func (l *logger) Description(string) string {
	return fmt.Sprintf("name: x\nformat: plain\ncollect:\n  timeout: 1s\n  limit: 100kB\n  push: {listen: %q, token: \"env:%s\", rate: 1000}\n", l.addr, collecttest.SecretEnv)
}

func (l *logger) Offer(_ *testing.T, r ...collecttest.Reading) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.last = collecttest.Plain(r)
	l.wait = append(l.wait, l.last)
}

func (l *logger) Again(*testing.T) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.wait = append(l.wait, l.last)
}

func (l *logger) Break(_ *testing.T, f collecttest.Fault) { l.set(f) }
func (l *logger) Mend(*testing.T)                         { l.set("") }
func (l *logger) Restart(*testing.T)                      {}

func (l *logger) set(f collecttest.Fault) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.fault = f
}

func (l *logger) send(ctx context.Context) {
	for ctx.Err() == nil {
		l.mu.Lock()
		body, fault := "", l.fault
		if len(l.wait) > 0 {
			body = l.wait[0]
		}
		l.mu.Unlock()
		if body != "" && l.post(ctx, body, fault) {
			l.mu.Lock()
			l.wait = l.wait[1:]
			l.mu.Unlock()
			continue
		}
		select {
		case <-ctx.Done():
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// post sends a body, badly where there is a fault, and says whether it was
// acknowledged.
func (l *logger) post(ctx context.Context, body string, fault collecttest.Fault) bool {
	token := collecttest.Secret
	var r io.Reader = strings.NewReader(body)
	size := int64(len(body))
	switch fault {
	case collecttest.Denied:
		token = "another token of some length"
	case collecttest.Huge:
		r, size = io.MultiReader(r, bytes.NewReader(make([]byte, 200_000))), -1
	case collecttest.Garbage:
		r, size = strings.NewReader("<html></html>"), -1
	case collecttest.Cut, collecttest.Slow:
		l.half(ctx, body, fault == collecttest.Slow)
		return false
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://"+l.addr+"/push/x/bay-1.csv", r)
	if err != nil {
		panic(err)
	}
	req.ContentLength = size
	req.Header.Set("Authorization", "Bearer "+token)
	resp, err := l.web.Do(req)
	if err != nil {
		return false
	}
	resp.Body.Close()
	return resp.StatusCode/100 == 2 && fault != collecttest.Garbage
}

// half sends half a body, and then ends or waits.
func (l *logger) half(ctx context.Context, body string, slow bool) {
	c, err := net.Dial("tcp", l.addr)
	if err != nil {
		return
	}
	defer c.Close()
	fmt.Fprintf(c, "POST /push/x HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer %s\r\nContent-Length: %d\r\n\r\n%s",
		collecttest.Secret, len(body), body[:len(body)/2])
	if slow {
		stop := context.AfterFunc(ctx, func() { c.Close() })
		defer stop()
		_, _ = io.Copy(io.Discard, c) // until the source gives up
	}
}

func TestConformance(t *testing.T) {
	collecttest.Run(t, collecttest.Factory{
		Start: start, Make: maker(), Sends: true, Queued: true,
		Faults: []collecttest.Fault{collecttest.Slow, collecttest.Cut, collecttest.Denied, collecttest.Garbage,
			collecttest.Huge},
	})
}

// listening runs sources and gives what asks them.
func listening(t *testing.T, dir string, texts ...string) {
	t.Helper()
	make := maker()
	ctx, cancel := context.WithCancel(t.Context())
	var all sync.WaitGroup
	for _, text := range texts {
		d, err := source.Load([]byte(text), "x")
		if err != nil {
			t.Fatal(err)
		}
		r, err := collect.Open(collect.Options{Dir: dir, Zone: time.UTC, Make: make, Now: time.Now}, d)
		if err != nil {
			t.Fatal(err)
		}
		all.Go(func() {
			r.Run(ctx)
			if err := r.Close(); err != nil {
				t.Error(err)
			}
		})
	}
	t.Cleanup(func() {
		cancel()
		all.Wait()
	})
}

// ask sends until somebody listens.
func ask(t *testing.T, method, url, token, body string) (int, string) {
	t.Helper()
	for until := time.Now().Add(10 * time.Second); ; {
		req, err := http.NewRequestWithContext(t.Context(), method, url, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Authorization", "Bearer "+token)
		resp, err := http.DefaultClient.Do(req)
		if err == nil {
			defer resp.Body.Close()
			b, err := io.ReadAll(resp.Body)
			return resp.StatusCode, strings.TrimSpace(string(b)) + fmt.Sprint(errors.Join(nil, err))
		}
		if time.Now().After(until) {
			t.Fatal(err)
		}
	}
}

// Two sources at one address: each token opens its own, a wrong one and a wrong
// name are told alike, and too many requests are turned away.
func TestTwoAtOneAddress(t *testing.T) {
	t.Setenv("WANE_TEST_ONE", "0123456789abcdef-one")
	t.Setenv("WANE_TEST_TWO", "0123456789abcdef-two")
	addr := collecttest.FreePort(t)
	listening(t, t.TempDir(),
		"name: one\nformat: plain\ncollect: {push: {listen: \""+addr+"\", token: \"env:WANE_TEST_ONE\", rate: 0.1}}\n",
		"name: two\nformat: plain\ncollect: {push: {listen: \""+addr+"\", token: \"env:WANE_TEST_TWO\"}}\n")
	ok := func(name, token string) int {
		for {
			code, _ := ask(t, http.MethodPost, "http://"+addr+"/push/"+name, token, collecttest.Plain(collecttest.Rows(0, 1)))
			if code != http.StatusUnauthorized {
				return code
			}
		}
	}
	if got := ok("one", "0123456789abcdef-one"); got != http.StatusNoContent {
		t.Error(got)
	}
	if got := ok("two", "0123456789abcdef-two"); got != http.StatusNoContent {
		t.Error(got)
	}
	wrong, said := ask(t, http.MethodPost, "http://"+addr+"/push/one", "0123456789abcdef-two", "")
	none, saidNone := ask(t, http.MethodPost, "http://"+addr+"/push/three", "0123456789abcdef-two", "")
	if wrong != http.StatusUnauthorized || none != wrong || said != saidNone {
		t.Errorf("%d %q, %d %q", wrong, said, none, saidNone)
	}
	if got, _ := ask(t, http.MethodGet, "http://"+addr+"/push/two", "0123456789abcdef-two",
		""); got != http.StatusMethodNotAllowed {
		t.Error(got)
	}
	if got, _ := ask(t, http.MethodPost, "http://"+addr+"/push/one", "0123456789abcdef-one",
		"x"); got != http.StatusTooManyRequests {
		t.Error(got)
	}
}

// Nothing listens to other machines without TLS unless it is said, and a short
// token is refused.
func TestOpenToOthers(t *testing.T) {
	for text, want := range map[string]string{
		"listen: 0.0.0.0:8471, token: env:X":                              "other machines reach this address",
		"listen: 0.0.0.0:8471, token: env:X, noTLS: yes":                  "only the word proxy-in-front",
		"listen: 127.0.0.1:8471":                                          "no token",
		"listen: 127.0.0.1:8471, token: s3cret":                           "a secret does not stand in this file",
		"listen: 0.0.0.0:8471, token: env:X, noTLS: proxy-in-front":       "",
		"listen: 0.0.0.0:8471, token: env:X, cert: c.pem, certKey: k.pem": "",
	} {
		_, err := source.Load([]byte("name: x\nformat: plain\ncollect: {push: {"+text+"}}\n"), "x")
		if (err == nil) != (want == "") || err != nil &&
			(!strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "s3cret")) {
			t.Errorf("%s: %v", text, err)
		}
	}
	t.Setenv("WANE_TEST_SHORT", "short")
	d, err := source.Load([]byte("name: x\nformat: plain\ncollect: {push: {listen: 127.0.0.1:0, token: env:WANE_TEST_SHORT}}\n"), "x")
	if err != nil {
		t.Fatal(err)
	}
	r, err := collect.Open(collect.Options{Dir: t.TempDir(), Zone: time.UTC, Make: maker(), Now: time.Now}, d)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if err := r.Once(t.Context()); err == nil || !strings.Contains(err.Error(), "less than 16 letters") {
		t.Error(err)
	}
}
