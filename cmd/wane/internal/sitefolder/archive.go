package sitefolder

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"os"
	"path/filepath"

	"wane/ingest/archive"
	"wane/ingest/archive/bucket"
	"wane/ingest/collect/secret"
	"wane/ingest/site"
)

// View opens the site folder, and its archive as it is now.
func View(dir string) (*archive.Archive, *Site, error) {
	s, err := Open(dir)
	if err != nil {
		return nil, nil, err
	}
	place, err := s.Archive(site.Folder(dir))
	if err != nil {
		return nil, nil, err
	}
	a, err := place.Open()
	return a, s, err
}

// Archive says where the site's archive is: in the folder archive, or in the
// bucket of site.yaml with a copy there.
func (s *Site) Archive(f site.Folder) (archive.Place, error) {
	p := archive.Place{Dir: f.Path("archive")}
	if s.Config.Archive == nil {
		return p, nil
	}
	var err error
	p.Bucket, err = Bucket(string(f), s.Config.Archive, "site.yaml: archive")
	return p, err
}

// Bucket makes a client of a place in a bucket, which the file of the folder says that
// written names.
func Bucket(dir string, a *site.Archive, written string) (*bucket.Bucket, error) {
	name, prefix := a.Where()
	spec := bucket.Spec{Endpoint: a.Endpoint, Name: name, Prefix: prefix, Region: a.Region,
		TLS: &tls.Config{MinVersion: tls.VersionTLS12, InsecureSkipVerify: a.Certificate == site.Unchecked}}
	vault := secret.New(dir)
	var err error
	if spec.AccessKey, err = vault.Read(a.AccessKey); err != nil {
		return nil, fmt.Errorf("%s.access_key: %w", written, err)
	}
	if spec.SecretKey, err = vault.Read(a.SecretKey); err != nil {
		return nil, fmt.Errorf("%s.secret_key: %w", written, err)
	}
	if a.CA != "" {
		path := filepath.FromSlash(a.CA)
		if !filepath.IsAbs(path) {
			path = filepath.Join(dir, path)
		}
		pem, err := os.ReadFile(path)
		if err != nil {
			return nil, fmt.Errorf("%s.ca: %w", written, err)
		}
		spec.TLS.RootCAs = x509.NewCertPool()
		if !spec.TLS.RootCAs.AppendCertsFromPEM(pem) {
			return nil, fmt.Errorf("%s.ca: %s holds no certificate in PEM form", written, a.CA)
		}
	}
	return bucket.New(spec)
}
