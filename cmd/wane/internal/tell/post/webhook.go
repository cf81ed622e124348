package post

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"time"

	"wane/cmd/wane/internal/tell"
	"wane/ingest/collect/secret"
	"wane/ingest/site"
)

// The headers of a posted message.
const (
	headID        = "X-Wane-Message"   // its number: the same when it comes twice
	headTime      = "X-Wane-Time"      // seconds since 1970 at which it was signed
	headSignature = "X-Wane-Signature" // sha256= and the HMAC-SHA256 of time, a point and the body, in hexadecimal
)

type webhook struct {
	folder site.Folder
	vault  *secret.Vault
	set    site.Webhook
	now    func() time.Time // nil: the clock
}

func (*webhook) Name() string { return "webhook" }

// posted is the body.
type posted struct {
	ID      string       `json:"id"`
	Kind    string       `json:"kind"`
	Site    string       `json:"site"`
	At      time.Time    `json:"at"`
	Subject string       `json:"subject"`
	Text    string       `json:"text"`
	Changes tell.Changes `json:"changes"`
}

func (w *webhook) Send(ctx context.Context, m tell.Message) error {
	key, err := w.vault.Read(w.set.Secret)
	if err != nil {
		return err
	}
	u, err := url.Parse(w.set.URL)
	if err != nil {
		return errors.New("the address of the webhook cannot be read")
	}
	certs, err := trust(w.folder, u.Hostname(), w.set.CA, w.set.Certificate)
	if err != nil {
		return err
	}
	body, err := json.Marshal(posted{m.ID, m.Kind, m.Site, m.At.UTC(), m.Subject, m.Text, m.Changes})
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, sendTime)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, w.set.URL, bytes.NewReader(body))
	if err != nil {
		return errors.New("the address of the webhook cannot be used")
	}
	at := fmt.Sprint(w.clock().Unix())
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set(headID, m.ID)
	r.Header.Set(headTime, at)
	r.Header.Set(headSignature, Sign(key, at, body))
	client := &http.Client{
		Transport:     &http.Transport{TLSClientConfig: certs, DisableKeepAlives: true, Proxy: http.ProxyFromEnvironment},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }, // a message goes where it was sent
	}
	a, err := client.Do(r)
	if err != nil {
		var e *url.Error // its words hold the address, which may hold a token
		if errors.As(err, &e) {
			err = e.Err
		}
		return fmt.Errorf("post to the webhook at %s: %s", u.Host, w.vault.Hide(err.Error()))
	}
	defer a.Body.Close()
	if _, err := io.Copy(io.Discard, io.LimitReader(a.Body, 64<<10)); err != nil {
		return fmt.Errorf("post to the webhook at %s: %w", u.Host, err)
	}
	if a.StatusCode < 200 || a.StatusCode > 299 {
		return fmt.Errorf("the webhook at %s answers %s", u.Host, a.Status)
	}
	return nil
}

func (w *webhook) clock() time.Time {
	if w.now != nil {
		return w.now()
	}
	return time.Now()
}

// Sign gives the signature of a body posted at a time (seconds since 1970, in
// digits): who knows the key can tell that it came from here, and when.
func Sign(key, at string, body []byte) string {
	h := hmac.New(sha256.New, []byte(key))
	h.Write([]byte(at + "."))
	h.Write(body)
	return "sha256=" + hex.EncodeToString(h.Sum(nil))
}
