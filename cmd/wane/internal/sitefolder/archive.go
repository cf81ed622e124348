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
	a := s.Config.Archive
	if a == nil {
		return p, nil
	}
	name, prefix := a.Where()
	spec := bucket.Spec{Endpoint: a.Endpoint, Name: name, Prefix: prefix, Region: a.Region,
		TLS: &tls.Config{MinVersion: tls.VersionTLS12, InsecureSkipVerify: a.Certificate == site.Unchecked}}
	vault := secret.New(string(f))
	var err error
	if spec.AccessKey, err = vault.Read(a.AccessKey); err != nil {
		return p, fmt.Errorf("site.yaml: archive.access_key: %w", err)
	}
	if spec.SecretKey, err = vault.Read(a.SecretKey); err != nil {
		return p, fmt.Errorf("site.yaml: archive.secret_key: %w", err)
	}
	if a.CA != "" {
		path := a.CA
		if !filepath.IsAbs(path) {
			path = f.Path(filepath.FromSlash(path))
		}
		pem, err := os.ReadFile(path)
		if err != nil {
			return p, fmt.Errorf("site.yaml: archive.ca: %w", err)
		}
		spec.TLS.RootCAs = x509.NewCertPool()
		if !spec.TLS.RootCAs.AppendCertsFromPEM(pem) {
			return p, fmt.Errorf("site.yaml: archive.ca: %s holds no certificate in PEM form", a.CA)
		}
	}
	p.Bucket, err = bucket.New(spec)
	return p, err
}
