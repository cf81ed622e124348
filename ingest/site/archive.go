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
	if a := c.Archive; a != nil {
		a.CheckPlace(bad, "archive.bucket")
		a.CheckStore(bad, "archive")
	}
}

// CheckPlace says what is wrong with the place in a bucket, which is written at path.
func (a *Archive) CheckPlace(bad func(path, what, do string), path string) {
	if name, prefix := a.Where(); !strings.HasPrefix(a.Bucket, "s3://") || len(name) < 3 || prefix == "" {
		bad(path, fmt.Sprintf("%q is not a place in a bucket", a.Bucket),
			"write s3://, the bucket and a folder in it that is this site's alone, such as s3://lamps/north")
	}
}

// CheckStore says what is wrong with how the object store is reached, which is written
// below path.
func (a *Archive) CheckStore(bad func(path, what, do string), path string) {
	checkAddress(bad, path+".endpoint", a.Endpoint, false)
	if strings.HasPrefix(a.Endpoint, "http://") && !loopback(hostOf(a.Endpoint)) {
		bad(path+".endpoint", "all of it would cross the network in the open", "write https://…; http is for "+
			"this machine")
	}
	if a.AccessKey.IsZero() != a.SecretKey.IsZero() {
		bad(path+".access_key", "access_key and secret_key go together", "write both or neither")
	}
	checkCertificate(bad, path+".certificate", a.Certificate)
}
