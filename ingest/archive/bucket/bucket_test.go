package bucket

import (
	"bytes"
	"errors"
	"io"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

func start(t *testing.T) *Bucket {
	t.Helper()
	back := s3mem.New()
	if err := back.CreateBucket("lamps"); err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(gofakes3.New(back).Server())
	t.Cleanup(srv.Close)
	b, err := New(Spec{Endpoint: srv.URL, Name: "lamps", Prefix: "north/", Region: "us-east-1", AccessKey: "k", SecretKey: "s"})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func read(t *testing.T, b *Bucket, name string) (text, tag string, err error) {
	t.Helper()
	r, tag, err := b.Get(name)
	if err != nil {
		return "", "", err
	}
	defer r.Close()
	all, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(all), tag, nil
}

// A swap goes through only over what was seen.
func TestSwap(t *testing.T) {
	b := start(t)
	if _, _, err := b.Get("m"); !errors.Is(err, ErrNone) {
		t.Errorf("an object that is not there: %v", err)
	}
	if _, err := b.Swap("m", []byte("x"), "0123456789abcdef0123456789abcdef"); err == nil {
		t.Error("swapped what was not there")
	}
	first, err := b.Swap("m", []byte("one"), "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Swap("m", []byte("two"), ""); !errors.Is(err, ErrChanged) {
		t.Errorf("put anew over one that is there: %v", err)
	}
	second, err := b.Swap("m", []byte("two"), first)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Swap("m", []byte("three"), first); !errors.Is(err, ErrChanged) {
		t.Errorf("put over another than was seen: %v", err)
	}
	if text, tag, err := read(t, b, "m"); err != nil || text != "two" || tag != second {
		t.Errorf("it holds %q, tag %s not %s, %v", text, tag, second, err)
	}
}

func TestObjects(t *testing.T) {
	b := start(t)
	long := strings.Repeat("0123456789", 2_000_000) // a part longer than the client would put in one piece by itself
	for range 2 {
		if err := b.Put("readings/a.parquet", bytes.NewReader([]byte(long)), int64(len(long))); err != nil {
			t.Fatal(err)
		}
	}
	other, err := New(Spec{Endpoint: b.spec.Endpoint, Name: "lamps", Prefix: "south/", Region: "us-east-1", AccessKey: "k",
		SecretKey: "s"})
	if err != nil {
		t.Fatal(err)
	}
	if err := other.Put("x", strings.NewReader("y"), 1); err != nil {
		t.Fatal(err)
	}
	all, err := b.List("", 0)
	if err != nil || len(all) != 1 || all["readings/a.parquet"].Size != int64(len(long)) {
		t.Errorf("listed %v, %v", all, err)
	}
	if text, _, err := read(t, b, "readings/a.parquet"); err != nil || text != long {
		t.Errorf("%d bytes, %v", len(text), err)
	}
	for range 2 {
		if err := b.Remove("readings/a.parquet"); err != nil {
			t.Fatal(err)
		}
	}
	if all, err := b.List("", 0); err != nil || len(all) != 0 {
		t.Errorf("listed %v, %v", all, err)
	}
	if s := b.String(); s != "s3://lamps/north" {
		t.Error(s)
	}
}
