// Package s3 fetches new objects below a prefix of a bucket.
//
// An object is whole when it is listed, and known by its ETag: none is left for
// the next time. What is new is decided by package folder.
package s3

import (
	"context"
	"crypto/tls"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"

	"wane/ingest/collect"
	"wane/ingest/collect/internal/folder"
	"wane/ingest/collect/internal/trust"
	"wane/ingest/source"
)

// Source is a bucket's prefix. Make it with New.
type Source struct {
	set  collect.Setting
	spec *source.S3
	tls  *tls.Config
}

var _ collect.Poller = (*Source)(nil)

// New makes the source that its description's collect.s3 describes.
func New(set collect.Setting) (*Source, error) {
	s := &Source{set: set, spec: set.Description.Collect.S3}
	var err error
	s.tls, err = trust.Config(set.Dir, s.spec.TLS)
	return s, err
}

// Poll fetches what is new.
func (s *Source) Poll(ctx context.Context, box collect.Box) error {
	u, err := url.Parse(s.spec.Endpoint)
	if err != nil {
		return err
	}
	access, err := s.set.Vault.Read(s.spec.AccessKey)
	if err != nil {
		return collect.Refused(err)
	}
	secret, err := s.set.Vault.Read(s.spec.SecretKey)
	if err != nil {
		return collect.Refused(err)
	}
	way := &http.Transport{TLSClientConfig: s.tls, Proxy: http.ProxyFromEnvironment, DisableCompression: true}
	defer way.CloseIdleConnections()
	c, err := minio.New(u.Host, &minio.Options{
		Creds: credentials.NewStaticV4(access, secret, ""), Secure: u.Scheme == "https", Region: s.spec.Region,
		Transport:  way,
		MaxRetries: 1, // the runner tries again, and counts
	})
	if err != nil {
		return fmt.Errorf("the object store's address: %w", err)
	}
	rule := folder.Rule{Names: s.spec.Names, First: s.set.Description.Collect.First.Std(), Now: s.set.Now()}
	err = folder.Fetch(ctx, &shelf{c, s.spec}, rule, box)
	switch code := minio.ToErrorResponse(err).Code; {
	case err != nil && ctx.Err() != nil:
		return ctx.Err()
	case code == "AccessDenied", code == "InvalidAccessKeyId", code == "SignatureDoesNotMatch":
		return collect.Refused(fmt.Errorf("%s refuses the keys: %w", u.Host, err))
	}
	return trust.Refused(err)
}

type shelf struct {
	c    *minio.Client
	spec *source.S3
}

func (s *shelf) List(ctx context.Context) ([]folder.Entry, error) {
	var out []folder.Entry
	for o := range s.c.ListObjects(ctx, s.spec.Bucket, minio.ListObjectsOptions{Prefix: s.spec.Prefix, Recursive: true}) {
		if o.Err != nil {
			return nil, fmt.Errorf("list bucket %s: %w", s.spec.Bucket, o.Err)
		}
		if !strings.HasSuffix(o.Key, "/") { // a folder, as some tools make them
			out = append(out, folder.Entry{Name: o.Key, Size: o.Size, Time: o.LastModified, Mark: o.ETag})
		}
	}
	return out, nil
}

func (s *shelf) Open(ctx context.Context, name string) (io.ReadCloser, error) {
	return s.c.GetObject(ctx, s.spec.Bucket, name, minio.GetObjectOptions{})
}
