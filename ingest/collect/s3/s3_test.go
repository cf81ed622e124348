package s3_test

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"

	"wane/ingest/collect"
	"wane/ingest/collect/collecttest"
	own "wane/ingest/collect/s3"
)

// store is an object store as a Go library.
type store struct {
	back  gofakes3.Backend
	srv   *httptest.Server
	at    string
	proxy *collecttest.Proxy
	put   *minio.Client

	mu   sync.Mutex
	deny bool
	n    int
	last string
}

func start(t *testing.T) collecttest.Counterpart {
	s := &store{back: s3mem.New()}
	s.listen(t, "127.0.0.1:0")
	s.proxy = collecttest.StartProxy(t, s.at)
	t.Cleanup(func() { s.srv.Close() })
	way := &http.Transport{DisableKeepAlives: true}
	var err error
	if s.put, err = minio.New(s.at, &minio.Options{Creds: credentials.NewStaticV4("k", "s", ""),
		Transport: way}); err != nil {
		t.Fatal(err)
	}
	if err := s.put.MakeBucket(context.Background(), "loggers", minio.MakeBucketOptions{}); err != nil {
		t.Fatal(err)
	}
	s.object(t, "elsewhere/x.csv", "not below the prefix")
	s.object(t, "site/readme.txt", "of another name")
	return s
}

func (s *store) listen(t *testing.T, at string) {
	t.Helper()
	ln, err := net.Listen("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	s.at = ln.Addr().String()
	fake := gofakes3.New(s.back).Server()
	s.srv = &httptest.Server{Listener: ln, Config: &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter,
		r *http.Request) {
		s.mu.Lock()
		deny := s.deny
		s.mu.Unlock()
		if deny {
			w.WriteHeader(http.StatusForbidden)
			fmt.Fprint(w, `<?xml version="1.0"?><Error><Code>SignatureDoesNotMatch</Code><Message>no</Message></Error>`)
			return
		}
		fake.ServeHTTP(w, r)
	})}}
	s.srv.Start()
}

func (s *store) object(t *testing.T, name, text string) {
	t.Helper()
	if _, err := s.put.PutObject(context.Background(), "loggers", name, strings.NewReader(text), int64(len(text)),
		minio.PutObjectOptions{}); err != nil {
		t.Fatal(err)
	}
}

func (s *store) Description(string) string {
	return fmt.Sprintf("name: x\nformat: plain\ncollect:\n  every: 1m\n  timeout: 2s\n  retries: 0\n  limit: 100kB\n  s3: {endpoint: \"http://%s\", bucket: loggers, prefix: site/, region: us-east-1, accessKey: \"env:HOME\", secretKey: \"env:%s\", names: [\"*.csv\"]}\n",
		s.proxy.Addr, collecttest.SecretEnv)
}

func (s *store) Offer(t *testing.T, r ...collecttest.Reading) {
	s.n++
	s.last = collecttest.Text(r)
	s.object(t, fmt.Sprintf("site/2026/bay-%d.csv", s.n), s.last)
}

func (s *store) Again(t *testing.T) { s.object(t, "site/again.csv", s.last) }

func (s *store) Break(t *testing.T, f collecttest.Fault) {
	switch f {
	case collecttest.Denied:
		s.set(true)
	case collecttest.Huge:
		s.object(t, "site/huge.csv", strings.Repeat("x", 150_000))
	default:
		s.proxy.Break(f, collecttest.CutAt)
	}
}

func (s *store) set(deny bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.deny = deny
}

func (s *store) Mend(t *testing.T) {
	s.set(false)
	if err := s.put.RemoveObject(context.Background(), "loggers", "site/huge.csv",
		minio.RemoveObjectOptions{}); err != nil {
		t.Fatal(err)
	}
	s.proxy.Mend()
}

func (s *store) Restart(t *testing.T) {
	s.srv.Close()
	s.listen(t, s.at)
}

func TestConformance(t *testing.T) {
	collecttest.Run(t, collecttest.Factory{
		Start: start, Make: func(s collect.Setting) (any, error) { return own.New(s) }, Piecewise: true,
		Faults: []collecttest.Fault{collecttest.Slow, collecttest.Cut, collecttest.Denied, collecttest.Huge,
			collecttest.Down},
	})
}
