package site

import (
	"fmt"
	"net"
	"net/mail"
	"net/url"
	"slices"
	"strings"

	"wane/ingest/source"
)

// Tell says who is told what, and how. Without mail and webhook nobody is told
// anything but by the pages.
type Tell struct {
	Digest    string            `yaml:"digest"`    // nightly, or the cron line after whose times the next night's changes go out
	Heartbeat bool              `yaml:"heartbeat"` // a digest is sent also where nothing is new
	SoonDays  int               `yaml:"soon_days"` // a lamp is due soon within so many days
	Link      string            `yaml:"link"`      // where people find the pages
	Who       map[string]string `yaml:"who"`       // who sees to lamps, loggers, records
	Mail      *Mail             `yaml:"mail"`
	Webhook   *Webhook          `yaml:"webhook"`
}

// Nightly is the digest of each night.
const Nightly = "nightly"

// Mail is how messages go by SMTP.
type Mail struct {
	Host        string        `yaml:"host"`
	Port        int           `yaml:"port"`
	Security    string        `yaml:"security"` // starttls, tls, or none (loopback only)
	User        string        `yaml:"user"`     // "" without a login
	Password    source.Secret `yaml:"password"`
	From        string        `yaml:"from"`
	To          []string      `yaml:"to"`
	Attach      bool          `yaml:"attach"`      // the report's first page goes with a digest
	CA          string        `yaml:"ca"`          // file of certificates to trust besides the system's
	Certificate string        `yaml:"certificate"` // unchecked: whoever answers is believed
}

// Webhook is an address to which messages are posted as JSON.
type Webhook struct {
	URL         string        `yaml:"url"`
	Secret      source.Secret `yaml:"secret"` // key of the signature
	CA          string        `yaml:"ca"`
	Certificate string        `yaml:"certificate"`
}

// Unchecked is the word that switches the check of certificates off.
const Unchecked = "unchecked"

func (c *Config) checkTell(bad report, cronLine func(string) error) {
	t := &c.Tell
	if t.Digest != Nightly {
		if err := cronLine(t.Digest); err != nil {
			bad("tell.digest", err.Error(), "write nightly, or a cron line such as \"0 7 * * 1\"")
		}
	}
	if t.SoonDays < 1 || t.SoonDays > 365 {
		bad("tell.soon_days", fmt.Sprintf("%d is not within 1 to 365", t.SoonDays), "write days such as 30")
	}
	if t.Link != "" {
		checkAddress(bad, "tell.link", t.Link, false)
	}
	for who := range t.Who {
		if !slices.Contains([]string{"lamps", "loggers", "records"}, who) {
			bad("tell.who."+who, fmt.Sprintf("%q is no duty", who), "known: lamps, loggers, records")
		}
	}
	if t.Mail != nil {
		t.Mail.check(bad)
	}
	if w := t.Webhook; w != nil {
		checkAddress(bad, "tell.webhook.url", w.URL, true)
		checkCertificate(bad, "tell.webhook.certificate", w.Certificate)
		if w.Secret.IsZero() {
			bad("tell.webhook.secret", "the messages would not be signed", "write env:NAME or file:PATH")
		}
	}
}

func (m *Mail) check(bad report) {
	if m.Security == "" {
		m.Security = "starttls"
	}
	if m.Port == 0 {
		m.Port = map[string]int{"starttls": 587, "tls": 465, "none": 25}[m.Security]
	}
	if m.Host == "" {
		bad("tell.mail.host", "there is no mail server", "write its name")
	}
	if m.Port < 1 || m.Port > 65535 {
		bad("tell.mail.port", fmt.Sprintf("%d is no port", m.Port), "write 587, or 465 with security: tls")
	}
	if !slices.Contains([]string{"starttls", "tls", "none"}, m.Security) {
		bad("tell.mail.security", fmt.Sprintf("%q is not known", m.Security), "write starttls, tls or none")
	}
	if m.Security == "none" && !loopback(m.Host) {
		bad("tell.mail.security", "mail would cross the network in the open",
			"none is for a server on this machine; write starttls or tls")
	}
	if m.Security == "none" && m.User != "" {
		bad("tell.mail.user", "a login would be sent in the open", "use starttls or tls, or no login")
	}
	if (m.User == "") != m.Password.IsZero() {
		bad("tell.mail.user", "user and password go together", "write both or neither")
	}
	checkCertificate(bad, "tell.mail.certificate", m.Certificate)
	if len(m.To) == 0 {
		bad("tell.mail.to", "nobody is written to", "list addresses")
	}
	for i, a := range append([]string{m.From}, m.To...) {
		path := "tell.mail.from"
		if i > 0 {
			path = fmt.Sprintf("tell.mail.to[%d]", i-1)
		}
		if _, err := mail.ParseAddress(a); err != nil {
			bad(path, fmt.Sprintf("%q is not an address", a), "write name@example.org")
		}
	}
}

func checkCertificate(bad report, path, word string) {
	if word != "" && word != Unchecked {
		bad(path, fmt.Sprintf("%q is not known", word), "leave it out, or write unchecked to believe whoever answers")
	}
}

// checkAddress checks a web address. What may hold a token is not repeated.
func checkAddress(bad report, path, address string, secret bool) {
	said := fmt.Sprintf("%q", address)
	if secret {
		said = "what is written"
	}
	u, err := url.Parse(address)
	switch {
	case err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http":
		bad(path, said+" is not a web address", "write https://…")
	case secret && u.Scheme == "http" && !loopback(u.Hostname()):
		bad(path, "the messages would cross the network in the open", "write https://…; http is for this machine")
	case u.User != nil:
		bad(path, "the address holds a login", "take it out")
	}
}

func hostOf(address string) string {
	u, err := url.Parse(address)
	if err != nil {
		return ""
	}
	return u.Hostname()
}

func loopback(host string) bool {
	ip := net.ParseIP(strings.Trim(host, "[]"))
	return host == "localhost" || ip != nil && ip.IsLoopback()
}
