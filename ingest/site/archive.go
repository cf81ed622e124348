package site

import (
	"fmt"
	"strings"

	"wane/ingest/source"
)

// Archive says that the archive is in a bucket; the folder archive is then a copy
// of it.
type Archive struct {
	Bucket      string        `yaml:"bucket"`   // s3://name/prefix
	Endpoint    string        `yaml:"endpoint"` // address of the object store
	Region      string        `yaml:"region"`
	AccessKey   source.Secret `yaml:"access_key"`
	SecretKey   source.Secret `yaml:"secret_key"`
	CA          string        `yaml:"ca"`          // file of certificates to trust
	Certificate string        `yaml:"certificate"` // unchecked: whoever answers is believed
}

// Where gives the bucket and what the names in it begin with.
func (a *Archive) Where() (bucket, prefix string) {
	bucket, prefix, _ = strings.Cut(strings.TrimPrefix(a.Bucket, "s3://"), "/")
	if prefix = strings.Trim(prefix, "/"); prefix != "" {
		prefix += "/"
	}
	return bucket, prefix
}

func (c *Config) checkArchive(bad report) {
	a := c.Archive
	if a == nil {
		return
	}
	if name, prefix := a.Where(); !strings.HasPrefix(a.Bucket, "s3://") || len(name) < 3 || prefix == "" {
		bad("archive.bucket", fmt.Sprintf("%q is not a place in a bucket", a.Bucket),
			"write s3://, the bucket and a folder in it that is this site's alone, such as s3://lamps/north")
	}
	checkAddress(bad, "archive.endpoint", a.Endpoint, false)
	if strings.HasPrefix(a.Endpoint, "http://") && !loopback(hostOf(a.Endpoint)) {
		bad("archive.endpoint", "the archive would cross the network in the open", "write https://…; http is for "+
			"this machine")
	}
	if a.AccessKey.IsZero() != a.SecretKey.IsZero() {
		bad("archive.access_key", "access_key and secret_key go together", "write both or neither")
	}
	checkCertificate(bad, "archive.certificate", a.Certificate)
}
