// Package bucket is an object store as an archive needs it: whole objects, put
// and fetched by name, and one that is put only where nobody else did so
// meanwhile. It speaks S3; a store must honour If-Match and If-None-Match of a
// put, which TestSwap shows.
package bucket

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"
)

// What may be asked for.
var (
	ErrNone    = errors.New("the bucket holds no such object")
	ErrChanged = errors.New("the object is not what it was")
	ErrRefused = errors.New("the object store refuses the keys")
)

// Spec says where objects are.
type Spec struct {
	Endpoint             string // https://host, or http://host on this machine
	Name                 string // of the bucket
	Prefix               string // what all names begin with; "" or with a slash at its end
	Region               string
	AccessKey, SecretKey string
	TLS                  *tls.Config

	// Patience is how long nothing may come or go before a request is given up;
	// 0: a minute.
	Patience time.Duration
}

// Bucket is the objects below a prefix. It may be used from many goroutines.
type Bucket struct {
	spec Spec
	c    minio.Core
}

// New makes a client. Nothing is asked of the store yet.
func New(s Spec) (*Bucket, error) {
	u, err := url.Parse(s.Endpoint)
	if err != nil {
		return nil, fmt.Errorf("the object store's address: %w", err)
	}
	if s.Patience == 0 {
		s.Patience = time.Minute
	}
	way := &http.Transport{TLSClientConfig: s.TLS, Proxy: http.ProxyFromEnvironment, DisableCompression: true,
		MaxIdleConnsPerHost: 16, IdleConnTimeout: time.Minute}
	c, err := minio.New(u.Host, &minio.Options{
		Creds: credentials.NewStaticV4(s.AccessKey, s.SecretKey, ""), Secure: u.Scheme == "https", Region: s.Region,
		Transport: way, MaxRetries: 3,
	})
	if err != nil {
		return nil, fmt.Errorf("the object store's address: %w", err)
	}
	return &Bucket{s, minio.Core{Client: c}}, nil
}

// String names the prefix as people write it.
func (b *Bucket) String() string {
	return "s3://" + b.spec.Name + "/" + strings.TrimSuffix(b.spec.Prefix, "/")
}

// errSilent says that the store was given up.
var errSilent = errors.New("the object store does not answer")

// watch is over a request, which is given up when nothing comes or goes for too
// long.
type watch struct {
	context.Context
	cancel   context.CancelCauseFunc
	timer    *time.Timer
	patience time.Duration
}

func (b *Bucket) watch() *watch {
	w := &watch{patience: b.spec.Patience}
	w.Context, w.cancel = context.WithCancelCause(context.Background())
	w.timer = time.AfterFunc(w.patience, func() { w.cancel(errSilent) })
	return w
}

func (w *watch) done() {
	w.timer.Stop()
	w.cancel(nil)
}

// why is the error of a request, which the cause of its end explains better.
func (w *watch) why(err error) error {
	if err != nil && err != io.EOF && context.Cause(w) == errSilent {
		return errSilent
	}
	return err
}

// watched is a reader whose bytes show that something goes on.
type watched struct {
	io.ReadSeeker
	w *watch
}

func (r watched) Read(p []byte) (int, error) {
	n, err := r.ReadSeeker.Read(p)
	if n > 0 {
		r.w.timer.Reset(r.w.patience)
	}
	return n, err
}

// Put puts an object, over whatever bears its name.
func (b *Bucket) Put(name string, r io.ReadSeeker, size int64) error {
	_, err := b.put(name, r, size, minio.PutObjectOptions{})
	return err
}

// Swap puts an object where the one of its name still has the tag that Get or
// Swap gave, or where there is none and the tag is "". Else it is ErrChanged. On
// any other error it may be put or not: Get tells.
func (b *Bucket) Swap(name string, content []byte, tag string) (now string, err error) {
	var o minio.PutObjectOptions
	if tag == "" {
		o.SetMatchETagExcept("*")
	} else {
		o.SetMatchETag(tag)
	}
	return b.put(name, bytes.NewReader(content), int64(len(content)), o)
}

func (b *Bucket) put(name string, r io.ReadSeeker, size int64, o minio.PutObjectOptions) (tag string, err error) {
	w := b.watch()
	defer w.done()
	// In one piece, so that its condition is asked once, and with its digest, so
	// that what was changed on the way is refused.
	o.DisableMultipart, o.SendContentMd5 = true, true
	info, err := b.c.Client.PutObject(w, b.spec.Name, b.spec.Prefix+name, watched{r, w}, size, o)
	return info.ETag, b.told("put", name, w.why(err))
}

// Get reads an object. The reader must be closed.
func (b *Bucket) Get(name string) (r io.ReadCloser, tag string, err error) {
	w := b.watch()
	body, info, _, err := b.c.GetObject(w, b.spec.Name, b.spec.Prefix+name, minio.GetObjectOptions{})
	if err != nil {
		defer w.done()
		return nil, "", b.told("fetch", name, w.why(err))
	}
	return &reader{body, w, b, name}, info.ETag, nil
}

type reader struct {
	io.ReadCloser
	w    *watch
	b    *Bucket
	name string
}

func (r *reader) Read(p []byte) (int, error) {
	n, err := r.ReadCloser.Read(p)
	if n > 0 {
		r.w.timer.Reset(r.w.patience)
	}
	if err != nil && err != io.EOF {
		err = r.b.told("fetch", r.name, r.w.why(err))
	}
	return n, err
}

func (r *reader) Close() error {
	defer r.w.done()
	return r.ReadCloser.Close()
}

// Object is an object as it is listed.
type Object struct {
	Tag  string // as Get gives it
	Size int64
	Put  time.Time // by the store's clock
}

// List gives the objects by name whose names begin with below. More than most of them are
// an error; 0: any number.
func (b *Bucket) List(below string, most int) (map[string]Object, error) {
	w := b.watch()
	defer w.done()
	out := map[string]Object{}
	for o := range b.c.Client.ListObjects(w, b.spec.Name, minio.ListObjectsOptions{Prefix: b.spec.Prefix + below,
		Recursive: true}) {
		if o.Err != nil {
			return nil, b.told("list", below, w.why(o.Err))
		}
		if most > 0 && len(out) == most {
			return nil, fmt.Errorf("%s/%s holds more than the %d objects that may be there", b, below, most)
		}
		w.timer.Reset(w.patience)
		out[strings.TrimPrefix(o.Key, b.spec.Prefix)] = Object{o.ETag, o.Size, o.LastModified}
	}
	return out, nil
}

// Remove removes an object; a missing one is no error.
func (b *Bucket) Remove(name string) error {
	w := b.watch()
	defer w.done()
	err := w.why(b.c.RemoveObject(w, b.spec.Name, b.spec.Prefix+name, minio.RemoveObjectOptions{}))
	err = b.told("remove", name, err)
	if errors.Is(err, ErrNone) {
		return nil
	}
	return err
}

// told says what went wrong and where.
func (b *Bucket) told(what, name string, err error) error {
	if err == nil {
		return nil
	}
	where := b.String() + "/" + name
	switch r := minio.ToErrorResponse(err); {
	case r.Code == "PreconditionFailed", r.Code == "ConditionalRequestConflict", r.StatusCode == http.StatusPreconditionFailed:
		return fmt.Errorf("%s %s: %w", what, where, ErrChanged)
	case r.Code == "NoSuchKey":
		return fmt.Errorf("%s %s: %w", what, where, ErrNone)
	case r.Code == "AccessDenied", r.Code == "InvalidAccessKeyId", r.Code == "SignatureDoesNotMatch":
		return fmt.Errorf("%s %s: %w: %v; look at access_key and secret_key beside its endpoint", what, where, ErrRefused,
			err)
	}
	return fmt.Errorf("%s %s: %w", what, where, err)
}
