// Package trust says what a connection trusts, for all kinds that use TLS.
package trust

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"wane/ingest/collect"
	"wane/ingest/source"
)

// Config makes a TLS configuration of what a description says. Files lie below
// dir. Certificates are checked unless it says source.Unchecked.
func Config(dir string, t source.TLS) (*tls.Config, error) {
	c := &tls.Config{MinVersion: tls.VersionTLS12}
	if t.Certificates == source.Unchecked {
		c.InsecureSkipVerify = true
	}
	if t.CA != "" {
		pem, err := os.ReadFile(Path(dir, t.CA))
		if err != nil {
			return nil, fmt.Errorf("read the certificates to trust: %w", err)
		}
		c.RootCAs = x509.NewCertPool()
		if !c.RootCAs.AppendCertsFromPEM(pem) {
			return nil, fmt.Errorf("%s holds no certificate in PEM form", t.CA)
		}
	}
	if t.Cert != "" {
		pair, err := tls.LoadX509KeyPair(Path(dir, t.Cert), Path(dir, t.CertKey))
		if err != nil {
			return nil, fmt.Errorf("read wane's own certificate: %w", err)
		}
		c.Certificates = []tls.Certificate{pair}
	}
	return c, nil
}

// Path places a file that a description names below the site folder.
func Path(dir, name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(dir, filepath.FromSlash(name))
}

// Refused marks errors of certificates: trying again at once does not mend them.
func Refused(err error) error {
	var verify *tls.CertificateVerificationError
	if errors.As(err, &verify) {
		return collect.Refused(fmt.Errorf("%w; name the certificates to trust under tls.ca", err))
	}
	return err
}
