package source

import (
	"fmt"
	"net"
	"path"
	"regexp"
	"strings"
	"time"

	"github.com/robfig/cron/v3"
	"github.com/theory/jsonpath"
)

// Collecting does not go on for ever: what a source gets where it says nothing.
const (
	defaultTimeout = Duration(time.Minute)
	defaultSize    = Size(64e6)
	defaultRetries = 2
	defaultOverlap = Duration(time.Hour)
	defaultSettled = Duration(2 * time.Minute)
	defaultSession = Duration(7 * 24 * time.Hour)
	defaultPages   = 100
	defaultRate    = 2 // requests a second
)

// collect checks where the source's data comes from, and fills in defaults.
func (c *checker) collect() {
	d := c.d
	if d.Collect == nil {
		if d.Format == Registers {
			c.bad("format", "registers are read by collecting them", "write them under collect.modbus")
		}
		return
	}
	k := d.Collect
	n := 0
	for _, x := range k.kinds() {
		if x.set {
			n++
		}
	}
	if n != 1 {
		c.bad("collect", fmt.Sprintf("%d kinds of source where one is wanted", n),
			"write one of http, mqtt, modbus, sftp, ftp, s3 and push")
		return
	}
	c.when()
	def(&k.Timeout, defaultTimeout)
	def(&k.Limit, defaultSize)
	if !c.doc.Has("collect.retries") {
		k.Retries = defaultRetries
	}
	if k.Retries < 0 || k.Retries > 20 {
		c.bad("collect.retries", fmt.Sprintf("%d is not between 0 and 20", k.Retries),
			"write how often a failed try is repeated at once")
	}
	switch {
	case k.HTTP != nil:
		c.http(k.HTTP)
	case k.MQTT != nil:
		c.mqtt(k.MQTT)
	case k.Modbus != nil:
		c.modbus(k.Modbus)
	case k.SFTP != nil:
		c.sftp(k.SFTP)
	case k.FTP != nil:
		c.ftp(k.FTP)
	case k.S3 != nil:
		c.s3(k.S3)
	case k.Push != nil:
		c.push(k.Push)
	}
}

func def[T comparable](v *T, d T) {
	var zero T
	if *v == zero {
		*v = d
	}
}

// impliedFormat is the format of what the collector itself writes.
func (c *checker) impliedFormat() {
	d := c.d
	if d.Collect == nil {
		return
	}
	want := Format("")
	switch {
	case d.Collect.MQTT != nil:
		want = Messages
	case d.Collect.Modbus != nil:
		want = Registers
	default:
		return
	}
	if c.doc.Has("format") && d.Format != want {
		c.bad("format", fmt.Sprintf("what %s brings is in format %s", d.Collect.Kind(), want), "take it out")
	}
	d.Format = want
}

// when checks the schedule: polls have one, listeners have none.
func (c *checker) when() {
	k := c.d.Collect
	if !k.Polls() {
		for _, key := range []string{"every", "cron", "retries", "first"} {
			if c.doc.Has("collect." + key) {
				c.bad("collect."+key, k.Kind()+" listens all the time", "take it out")
			}
		}
		return
	}
	switch {
	case k.Cron != "" && k.Every != 0:
		c.bad("collect.cron", "every says how often already", "keep one of the two")
	case k.Cron != "":
		if _, err := ParseCron(k.Cron); err != nil {
			c.bad("collect.cron", err.Error(), `write five fields (minute hour day month weekday) such as "*/15 * * * *"`)
		}
	case k.Every == 0:
		c.bad("collect.every", "nothing says how often", "write every: 15m, or a cron line")
	case k.Every.Std() < time.Second:
		c.bad("collect.every", "is less than a second", "write 1s or more")
	}
}

// ParseCron reads a cron line, which counts in the site's zone.
func ParseCron(line string) (cron.Schedule, error) {
	if strings.Contains(line, "TZ=") || strings.HasPrefix(line, "@every") {
		return nil, fmt.Errorf("%q is not a cron line of five fields", line)
	}
	s, err := cron.ParseStandard(line)
	if err != nil {
		return nil, fmt.Errorf("%q is not a cron line: %w", line, err)
	}
	return s, nil
}

func (c *checker) http(h *HTTP) {
	const at = "collect.http."
	_, what := urlOf(h.URL, "https", "http")
	if what != "" {
		c.bad(at+"url", what, "write such as https://logger.example/readings")
	}
	ways := 0
	for _, set := range []bool{!h.Bearer.IsZero(), h.User != "" || !h.Password.IsZero(), h.KeyHeader != "" ||
		!h.Key.IsZero()} {
		if set {
			ways++
		}
	}
	if ways > 1 {
		c.bad("collect.http", "says in more than one way who asks",
			"keep one of bearer, user with password, and keyHeader with key")
	}
	c.pair(at+"user", h.User != "", at+"password", !h.Password.IsZero())
	c.pair(at+"keyHeader", h.KeyHeader != "", at+"key", !h.Key.IsZero())
	for name := range h.Headers {
		if !regexp.MustCompile(`^[A-Za-z0-9!#$%&'*+.^_|~-]+$`).MatchString(name) {
			c.bad(at+"headers", fmt.Sprintf("%q is not the name of a header", name), "write such as Accept: text/csv")
		} else if strings.EqualFold(name, "authorization") || strings.EqualFold(name, "cookie") {
			c.bad(at+"headers", name+" would be a secret", "use bearer, password or key")
		}
	}
	if h.Since.Param == "" && (c.doc.Has(at+"since") || c.d.Collect.First != 0) {
		c.bad(at+"since.param", "no parameter", "write the name of the query parameter that asks for what is new since a time")
	}
	def(&h.Since.Format, "rfc3339")
	oneOf(c, at+"since.format", h.Since.Format, "rfc3339", "date", "epoch-s", "epoch-ms")
	def(&h.Since.Overlap, defaultOverlap)
	c.pair(at+"cursor.param", h.Cursor.Param != "", at+"cursor.path", h.Cursor.Path != "")
	c.path(at+"cursor.path", h.Cursor.Path)
	if h.Next != "" && h.Next != "link" {
		c.path(at+"next", h.Next)
	}
	if h.Next != "" && h.Cursor.Path != "" {
		c.bad(at+"next", "a cursor leads through the pages already", "keep one of the two")
	}
	def(&h.Pages, defaultPages)
	if h.Pages < 1 || h.Pages > 100_000 {
		c.bad(at+"pages", fmt.Sprintf("%d is not between 1 and 100000", h.Pages),
			"write how many pages one collection reads at most")
	}
	c.tls(at+"tls", h.TLS)
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// pair checks that two keys stand together or not at all.
func (c *checker) pair(a string, hasA bool, b string, hasB bool) {
	switch {
	case hasA && !hasB:
		c.bad(b, "is missing beside "+a[strings.LastIndex(a, ".")+1:], "write both or neither")
	case hasB && !hasA:
		c.bad(a, "is missing beside "+b[strings.LastIndex(b, ".")+1:], "write both or neither")
	}
}

// path checks a JSON path (RFC 9535), if there is one.
func (c *checker) path(at, expr string) {
	if expr == "" {
		return
	}
	if _, err := jsonpath.Parse(expr); err != nil {
		c.bad(at, fmt.Sprintf("%q is not a JSON path (%v)", expr, err), "write such as $.data.ppfd or $['next page']")
	}
}

func (c *checker) tls(at string, t TLS) {
	if t.Certificates != "" && t.Certificates != Unchecked {
		c.bad(at+".certificates", fmt.Sprintf("%q is not known", t.Certificates),
			"certificates are checked; only the word "+Unchecked+" switches that off")
	}
	if t.Certificates == Unchecked && t.CA != "" {
		c.bad(at+".ca", "means nothing where certificates are not checked",
			"take certificates out: with ca they can be checked")
	}
	c.pair(at+".cert", t.Cert != "", at+".certKey", t.CertKey != "")
}

func (c *checker) mqtt(m *MQTT) {
	const at = "collect.mqtt."
	if _, what := urlOf(m.Broker, "mqtts", "mqtt", "wss", "ws"); what != "" {
		c.bad(at+"broker", what, "write such as mqtts://broker.example:8883")
	}
	if len(m.Topics) == 0 {
		c.bad(at+"topics", "nothing is subscribed to", `write such as topics: ["bays/+/+"]`)
	}
	for i, t := range m.Topics {
		if what := topicFilter(t); what != "" {
			c.bad(fmt.Sprintf("%stopics[%d]", at, i), fmt.Sprintf("%q %s", t, what),
				`write one such as "bays/+/ppfd"; + is one level, # at the end the rest`)
		}
	}
	if !m.Password.IsZero() && m.User == "" {
		c.bad(at+"user", "is missing beside password", "write who logs in")
	}
	if len(m.Client) > 200 {
		c.bad(at+"client", "is longer than 200 letters", "write a short name that no other client of the broker has")
	}
	def(&m.Session, defaultSession)
	if m.Session.Std() > 400*24*time.Hour {
		c.bad(at+"session", "is more than 400 days", "write how long the broker keeps what came while wane was away, such as 7d")
	}
	c.tls(at+"tls", m.TLS)
}

func (c *checker) sftp(s *SFTP) {
	const at = "collect.sftp."
	c.hostPort(at+"address", &s.Address, "22")
	if s.User == "" {
		c.bad(at+"user", "no user", "write who logs in")
	}
	if s.Password.IsZero() == s.Key.IsZero() {
		c.bad(at+"key", "needs one of key and password", "write such as key: file:secrets/id_ed25519")
	}
	if (s.KnownHosts == "") == (s.HostKey == "") {
		c.bad(at+"hostKey", "nothing, or two things, say which server this is",
			"write hostKey: ssh-ed25519 AAAA… as `ssh-keyscan` prints it after the name and as the server's keeper confirms it, or knownHosts: a file of such lines")
	}
	c.settled(at, &s.Settled)
	c.names(at+"names", s.Names)
}

func (c *checker) ftp(f *FTP) {
	const at = "collect.ftp."
	def(&f.Security, "explicit")
	port := "21"
	if oneOf(c, at+"security", f.Security, "explicit", "implicit", "plain") && f.Security == "implicit" {
		port = "990"
	}
	c.hostPort(at+"address", &f.Address, port)
	if f.Security == "plain" && f.TLS != (TLS{}) {
		c.bad(at+"tls", "means nothing where security is plain", "take it out")
	}
	def(&f.User, "anonymous")
	c.settled(at, &f.Settled)
	c.names(at+"names", f.Names)
	c.tls(at+"tls", f.TLS)
}

func (c *checker) s3(s *S3) {
	const at = "collect.s3."
	if _, what := urlOf(s.Endpoint, "https", "http"); what != "" {
		c.bad(at+"endpoint", what, "write such as https://objects.example")
	}
	if s.Bucket == "" {
		c.bad(at+"bucket", "no bucket", "write its name")
	}
	c.pair(at+"accessKey", !s.AccessKey.IsZero(), at+"secretKey", !s.SecretKey.IsZero())
	c.names(at+"names", s.Names)
	c.tls(at+"tls", s.TLS)
}

// settled fills in the default; 0 may be written.
func (c *checker) settled(at string, d *Duration) {
	if !c.doc.Has(at + "settled") {
		*d = defaultSettled
	}
}

// names checks patterns on the names in a folder; none stands for all.
func (c *checker) names(at string, names []string) {
	for i, p := range names {
		if _, err := path.Match(p, "x"); err != nil || p == "" || strings.ContainsAny(p, `/\`) {
			c.bad(fmt.Sprintf("%s[%d]", at, i), fmt.Sprintf("%q is not a file pattern", p),
				"use * for any text, ? for one character, [abc] for one of these")
		}
	}
}

// hostPort fills in the usual port.
func (c *checker) hostPort(at string, s *string, port string) {
	if *s == "" || strings.Contains(*s, "/") {
		c.bad(at, fmt.Sprintf("%q is not an address", *s), "write host:port, such as logger.example:"+port)
		return
	}
	if _, _, err := net.SplitHostPort(*s); err != nil {
		*s = net.JoinHostPort(strings.Trim(*s, "[]"), port)
	}
}

func (c *checker) push(p *Push) {
	const at = "collect.push."
	def(&p.Listen, "127.0.0.1:8471")
	host, _, err := net.SplitHostPort(p.Listen)
	if err != nil {
		c.bad(at+"listen", fmt.Sprintf("%q is not an address to listen on", p.Listen), "write such as 127.0.0.1:8471")
	}
	if p.Token.IsZero() {
		c.bad(at+"token", "no token: anybody could send readings", "write such as token: env:BAY_LOGGER_TOKEN")
	}
	if !c.doc.Has(at + "rate") {
		p.Rate = defaultRate
	}
	if p.Rate <= 0 || p.Rate > 10_000 {
		c.bad(at+"rate", fmt.Sprintf("%v is not between 0 and 10000", p.Rate),
			"write how many requests a second are taken at most")
	}
	c.pair(at+"cert", p.Cert != "", at+"certKey", p.CertKey != "")
	if p.NoTLS != "" && p.NoTLS != BehindProxy {
		c.bad(at+"noTLS", fmt.Sprintf("%q is not known", p.NoTLS),
			"only the word "+BehindProxy+" allows to listen to other machines without TLS")
	}
	if err == nil && !loopback(host) && p.Cert == "" && p.NoTLS == "" {
		c.bad(at+"listen", "other machines reach this address, and tokens and readings would pass unencrypted",
			"write cert and certKey, or noTLS: "+BehindProxy+" where a proxy in front does the encryption")
	}
}
