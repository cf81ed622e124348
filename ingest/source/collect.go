package source

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// Collect says from where and how often a source's data is fetched. Exactly one
// of the kinds is set. Package ingest/collect carries it out.
type Collect struct {
	Every   Duration `yaml:"every"`
	Cron    string   `yaml:"cron"`
	Timeout Duration `yaml:"timeout"`
	Retries int      `yaml:"retries"`
	First   Duration `yaml:"first"`
	Limit   Size     `yaml:"limit"`

	HTTP   *HTTP   `yaml:"http"`
	MQTT   *MQTT   `yaml:"mqtt"`
	Modbus *Modbus `yaml:"modbus"`
	SFTP   *SFTP   `yaml:"sftp"`
	FTP    *FTP    `yaml:"ftp"`
	S3     *S3     `yaml:"s3"`
	Push   *Push   `yaml:"push"`
}

// Kind is the kind's key: http, mqtt, modbus, sftp, ftp, s3 or push.
func (c *Collect) Kind() string {
	for _, k := range c.kinds() {
		if k.set {
			return k.name
		}
	}
	return ""
}

type kindSet struct {
	name string
	set  bool
}

func (c *Collect) kinds() []kindSet {
	return []kindSet{
		{"http", c.HTTP != nil}, {"mqtt", c.MQTT != nil}, {"modbus", c.Modbus != nil}, {"sftp", c.SFTP != nil},
		{"ftp", c.FTP != nil}, {"s3", c.S3 != nil}, {"push", c.Push != nil},
	}
}

// Polls says whether the source is asked on a schedule; else it listens.
func (c *Collect) Polls() bool { return c.MQTT == nil && c.Push == nil }

// HTTP is a source that answers GET.
type HTTP struct {
	URL       string            `yaml:"url"`
	Bearer    Secret            `yaml:"bearer"`
	User      string            `yaml:"user"`
	Password  Secret            `yaml:"password"`
	KeyHeader string            `yaml:"keyHeader"`
	Key       Secret            `yaml:"key"`
	Headers   map[string]string `yaml:"headers"`
	Since     Since             `yaml:"since"`
	Cursor    Cursor            `yaml:"cursor"`
	Next      string            `yaml:"next"`
	Pages     int               `yaml:"pages"`
	TLS       TLS               `yaml:"tls"`
}

// Since is the query parameter that asks for what is new since a time.
type Since struct {
	Param   string   `yaml:"param"`
	Format  string   `yaml:"format"`
	Overlap Duration `yaml:"overlap"`
}

// Cursor is a mark that the answer gives and the next request hands back.
type Cursor struct {
	Param string `yaml:"param"`
	Path  string `yaml:"path"`
}

// MQTT is a broker and what is subscribed to there.
type MQTT struct {
	Broker   string   `yaml:"broker"`
	Topics   []string `yaml:"topics"`
	User     string   `yaml:"user"`
	Password Secret   `yaml:"password"`
	Client   string   `yaml:"client"`
	Session  Duration `yaml:"session"`
	TLS      TLS      `yaml:"tls"`
}

// Modbus is a device, or a gateway to some, and the registers to read.
type Modbus struct {
	Address   string     `yaml:"address"`
	Unit      int        `yaml:"unit"`
	Registers []Register `yaml:"registers"`
}

// Register is one value in one or more registers.
type Register struct {
	Address int     `yaml:"address"`
	Kind    string  `yaml:"kind"`
	Type    string  `yaml:"type"`
	Order   string  `yaml:"order"`
	Scale   string  `yaml:"scale"`
	Unit    string  `yaml:"unit"`
	Sensor  string  `yaml:"sensor"`
	Channel string  `yaml:"channel"`
	scale   Decimal // of Scale
}

// Factor is what a register's number is multiplied by.
func (r *Register) Factor() Decimal { return r.scale }

// Words is how many registers the value takes.
func (r *Register) Words() int {
	switch r.Type {
	case "uint32", "int32", "float32":
		return 2
	case "uint64", "int64", "float64":
		return 4
	}
	return 1
}

// Decimal is Mantissa / 10^Digits.
type Decimal struct {
	Mantissa int64
	Digits   int
}

// SFTP is a folder on a server reached by SSH.
type SFTP struct {
	Address    string   `yaml:"address"`
	User       string   `yaml:"user"`
	Password   Secret   `yaml:"password"`
	Key        Secret   `yaml:"key"`
	KnownHosts string   `yaml:"knownHosts"`
	HostKey    string   `yaml:"hostKey"`
	Folder     string   `yaml:"folder"`
	Names      []string `yaml:"names"`
	Settled    Duration `yaml:"settled"`
}

// FTP is a folder on an FTP server.
type FTP struct {
	Address  string   `yaml:"address"`
	User     string   `yaml:"user"`
	Password Secret   `yaml:"password"`
	Security string   `yaml:"security"`
	Folder   string   `yaml:"folder"`
	Names    []string `yaml:"names"`
	Settled  Duration `yaml:"settled"`
	TLS      TLS      `yaml:"tls"`
}

// S3 is the objects of a bucket below a prefix.
type S3 struct {
	Endpoint  string   `yaml:"endpoint"`
	Region    string   `yaml:"region"`
	Bucket    string   `yaml:"bucket"`
	Prefix    string   `yaml:"prefix"`
	AccessKey Secret   `yaml:"accessKey"`
	SecretKey Secret   `yaml:"secretKey"`
	Names     []string `yaml:"names"`
	TLS       TLS      `yaml:"tls"`
}

// Push is an address on which loggers POST.
type Push struct {
	Listen  string  `yaml:"listen"`
	Token   Secret  `yaml:"token"`
	Rate    float64 `yaml:"rate"`
	Cert    string  `yaml:"cert"`
	CertKey string  `yaml:"certKey"`
	NoTLS   string  `yaml:"noTLS"`
}

// TLS is what a connection trusts. Certificates are checked unless Certificates
// says Unchecked.
type TLS struct {
	CA           string `yaml:"ca"`
	Cert         string `yaml:"cert"`
	CertKey      string `yaml:"certKey"`
	Certificates string `yaml:"certificates"`
}

// Unchecked is the word that switches the check of certificates off.
const Unchecked = "unchecked"

// BehindProxy is the word that lets a listener open to other machines do without TLS.
const BehindProxy = "proxy-in-front"

// Duration is written as 90s, 15m, 6h or 30d.
type Duration time.Duration

// UnmarshalText reads a duration above zero.
func (d *Duration) UnmarshalText(b []byte) error {
	s := strings.TrimSpace(string(b))
	text := s
	if n, ok := strings.CutSuffix(s, "d"); ok {
		if days, err := strconv.Atoi(n); err == nil && days < 100_000 {
			text = strconv.Itoa(days*24) + "h"
		}
	}
	v, err := time.ParseDuration(text)
	if err != nil || v < 0 {
		return fmt.Errorf("%q is not a length of time; write such as 90s, 15m, 6h or 30d", s)
	}
	*d = Duration(v)
	return nil
}

// Std is the duration as the standard library has it.
func (d Duration) Std() time.Duration { return time.Duration(d) }

// Size is a number of bytes, written as 64MB or 500kB (thousands).
type Size int64

// UnmarshalText reads a size above zero.
func (z *Size) UnmarshalText(b []byte) error {
	s := strings.TrimSpace(string(b))
	num, factor := s, int64(1)
	for _, u := range []struct {
		suffix string
		factor int64
	}{{"kB", 1e3}, {"KB", 1e3}, {"MB", 1e6}, {"GB", 1e9}, {"B", 1}} {
		if n, ok := strings.CutSuffix(s, u.suffix); ok {
			num, factor = strings.TrimSpace(n), u.factor
			break
		}
	}
	n, err := strconv.ParseInt(num, 10, 64)
	if err != nil || n <= 0 || n > 1e12/factor {
		return fmt.Errorf("%q is not a size; write such as 500kB or 64MB", s)
	}
	*z = Size(n * factor)
	return nil
}

// Secret says where a secret is kept: env:NAME or file:PATH. It never holds the
// secret itself.
type Secret struct{ Env, File string }

// UnmarshalText reads the place. What stands there in its stead may be the secret,
// so the message does not repeat it.
func (s *Secret) UnmarshalText(b []byte) error {
	text := strings.TrimSpace(string(b))
	if name, ok := strings.CutPrefix(text, "env:"); ok && name != "" {
		*s = Secret{Env: name}
		return nil
	}
	if path, ok := strings.CutPrefix(text, "file:"); ok && path != "" {
		*s = Secret{File: path}
		return nil
	}
	return fmt.Errorf("a secret does not stand in this file; write env:NAME for an environment variable, or file:PATH for a file that only its owner may read (0600)")
}

// IsZero is true where no secret is named.
func (s Secret) IsZero() bool { return s == Secret{} }

// String says where the secret is kept.
func (s Secret) String() string {
	if s.Env != "" {
		return "env:" + s.Env
	}
	return "file:" + s.File
}

// urlOf reads an address with one of the schemes; what it says of a bad one does
// not repeat a password in it.
func urlOf(s string, schemes ...string) (*url.URL, string) {
	u, err := url.Parse(s)
	if err != nil || u.Host == "" {
		return nil, "is not an address such as " + schemes[0] + "://host/path"
	}
	if u.User != nil {
		return nil, "holds a user or a password; these have keys of their own"
	}
	for _, k := range schemes {
		if u.Scheme == k {
			return u, ""
		}
	}
	return nil, fmt.Sprintf("begins with %s, and %s are known", u.Scheme, strings.Join(schemes, ", "))
}
