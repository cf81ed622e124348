// Package http fetches from a server that answers GET.
//
//  1. The address gets the parameters that ask for what is new: a time (since) or
//     the cursor that the last answer gave. Where the server gave an ETag or a
//     date for this very address, it is asked whether anything changed.
//  2. An answer goes to the box whole: one that breaks off, is longer than it says
//     or larger than the limit is none.
//  3. The next page is asked for as the answer says, on the same host only.
//  4. Cursor, time and ETag are saved once all that they stand for is kept. An
//     answer that does not read as described is kept, and moves none of them.
package http

import (
	"context"
	"errors"
	"fmt"
	"mime"
	"net/http"
	"net/url"
	"path"
	"strconv"
	"strings"
	"time"

	"wane/ingest/collect"
	"wane/ingest/collect/internal/trust"
	"wane/ingest/source"
)

// Source is an HTTP source. Make it with New.
type Source struct {
	set    collect.Setting
	spec   *source.HTTP
	client *http.Client
}

var _ collect.Poller = (*Source)(nil)

// New makes the source that its description's collect.http describes.
func New(set collect.Setting) (*Source, error) {
	s := &Source{set: set, spec: set.Description.Collect.HTTP}
	conf, err := trust.Config(set.Dir, s.spec.TLS)
	if err != nil {
		return nil, err
	}
	s.client = &http.Client{
		Transport: &http.Transport{TLSClientConfig: conf, Proxy: http.ProxyFromEnvironment, DisableKeepAlives: true},
		// The secret would go along in a header of its own.
		CheckRedirect: func(r *http.Request, via []*http.Request) error {
			if len(via) >= 5 || !sameHost(r.URL, via[0].URL) {
				return fmt.Errorf("it redirects to %s; write that address if it is right", r.URL.Redacted())
			}
			return nil
		},
	}
	return s, nil
}

// state is where the source stopped.
type state struct {
	Since    time.Time `json:"since"` // up to when it was collected
	Cursor   string    `json:"cursor,omitempty"`
	ETag     string    `json:"etag,omitempty"` // of the address without parameters that move
	Modified string    `json:"modified,omitempty"`
}

// Poll fetches what is new, page by page.
func (s *Source) Poll(ctx context.Context, box collect.Box) error {
	var st state
	if _, err := box.Load(&st); err != nil {
		return err
	}
	began := s.set.Now()
	at, err := s.first(st, began)
	if err != nil {
		return err
	}
	for page := 1; ; page++ {
		a, err := s.get(ctx, at, &st, box)
		if err != nil {
			return err
		}
		if a.cursor != "" && a.cursor != st.Cursor {
			st.Cursor = a.cursor
			if err := box.Save(st); err != nil { // each page is kept: the next time goes on here
				return err
			}
			if at, err = s.first(st, began); err != nil {
				return err
			}
		} else if at = a.next; at == nil {
			break
		}
		if page == s.spec.Pages {
			if s.spec.Cursor.Path != "" {
				return nil // goes on at the cursor
			}
			return fmt.Errorf("more than %d pages (collect.http.pages); ask for less at once", s.spec.Pages)
		}
	}
	st.Since = began
	return box.Save(st)
}

// first is the address of the first page.
func (s *Source) first(st state, now time.Time) (*url.URL, error) {
	u, err := url.Parse(s.spec.URL)
	if err != nil {
		return nil, err
	}
	q := u.Query()
	if p := s.spec.Since.Param; p != "" {
		from := st.Since.Add(-s.spec.Since.Overlap.Std())
		if st.Since.IsZero() {
			if first := s.set.Description.Collect.First; first != 0 {
				from = now.Add(-first.Std())
			} else {
				from = time.Time{}
			}
		}
		if !from.IsZero() {
			q.Set(p, sinceText(from.UTC(), s.spec.Since.Format))
		}
	}
	if p := s.spec.Cursor.Param; p != "" && st.Cursor != "" {
		q.Set(p, st.Cursor)
	}
	u.RawQuery = q.Encode()
	return u, nil
}

func sinceText(t time.Time, format string) string {
	switch format {
	case "date":
		return t.Format(time.DateOnly)
	case "epoch-s":
		return strconv.FormatInt(t.Unix(), 10)
	case "epoch-ms":
		return strconv.FormatInt(t.UnixMilli(), 10)
	}
	return t.Truncate(time.Second).Format(time.RFC3339)
}

// moving says that the address itself asks for what is new, so that an ETag of
// another one would say nothing.
func (s *Source) moving() bool { return s.spec.Since.Param != "" || s.spec.Cursor.Param != "" }

// get fetches one page into the box.
func (s *Source) get(ctx context.Context, at *url.URL, st *state, box collect.Box) (answer, error) {
	req, err := s.request(ctx, at)
	if err != nil {
		return answer{}, err
	}
	plain := !s.moving() && at.String() == s.spec.URL
	if plain && !s.set.Try {
		if st.ETag != "" {
			req.Header.Set("If-None-Match", st.ETag)
		}
		if st.Modified != "" {
			req.Header.Set("If-Modified-Since", st.Modified)
		}
	}
	resp, err := s.client.Do(req)
	if err != nil {
		var u *url.Error
		if errors.As(err, &u) {
			err = u.Err // without the address: it may hold what nobody should read
		}
		return answer{}, trust.Refused(fmt.Errorf("get from %s: %w", at.Host, err))
	}
	defer resp.Body.Close()
	if done, err := s.judge(resp, at); done || err != nil {
		return answer{}, err
	}
	a := &watch{of: s}
	came, err := box.Put(ctx, fileName(resp, at), a.through(resp.Body))
	if err != nil {
		return answer{}, fmt.Errorf("answer of %s: %w", at.Host, err)
	}
	if came.Unreadable != nil {
		return answer{}, fmt.Errorf("the answer of %s does not read as described: %w", at.Host, came.Unreadable)
	}
	if plain {
		st.ETag, st.Modified = resp.Header.Get("ETag"), resp.Header.Get("Last-Modified")
	}
	return a.answer(resp, at)
}

func (s *Source) request(ctx context.Context, at *url.URL) (*http.Request, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, at.String(), nil)
	if err != nil {
		return nil, err
	}
	req.Header.Set("User-Agent", "wane")
	for k, v := range s.spec.Headers {
		req.Header.Set(k, v)
	}
	for _, from := range []struct {
		secret source.Secret
		set    func(string)
	}{
		{s.spec.Bearer, func(v string) { req.Header.Set("Authorization", "Bearer "+v) }},
		{s.spec.Password, func(v string) {
			req.SetBasicAuth(s.spec.User, v)
			s.set.Vault.Know(strings.TrimPrefix(req.Header.Get("Authorization"), "Basic "))
		}},
		{s.spec.Key, func(v string) { req.Header.Set(s.spec.KeyHeader, v) }},
	} {
		v, err := s.set.Vault.Read(from.secret)
		if err != nil {
			return nil, collect.Refused(err)
		}
		if v != "" {
			from.set(v)
		}
	}
	return req, nil
}

// judge reads the status; done says that there is nothing new.
func (s *Source) judge(resp *http.Response, at *url.URL) (done bool, err error) {
	switch code := resp.StatusCode; {
	case code == http.StatusOK:
		return resp.ContentLength == 0, nil
	case code == http.StatusNotModified, code == http.StatusNoContent:
		return true, nil
	case code == http.StatusUnauthorized, code == http.StatusForbidden:
		return true, collect.Refused(fmt.Errorf("%s answers %s: the secret is wrong or lacks the right",
			at.Host, resp.Status))
	default:
		return true, fmt.Errorf("%s answers %s", at.Host, resp.Status)
	}
}

// fileName is what an answer is called: what the server says, else the last part
// of the address with what its type is.
func fileName(resp *http.Response, at *url.URL) string {
	if _, p, err := mime.ParseMediaType(resp.Header.Get("Content-Disposition")); err == nil && p["filename"] != "" {
		return p["filename"]
	}
	name := path.Base(at.Path)
	if name == "/" || name == "." {
		name = at.Hostname()
	}
	if path.Ext(name) == "" {
		kind, _, _ := mime.ParseMediaType(resp.Header.Get("Content-Type"))
		switch {
		case strings.HasSuffix(kind, "json"):
			name += ".json"
		case kind == "text/csv":
			name += ".csv"
		}
	}
	return name
}

func sameHost(a, b *url.URL) bool { return a.Host == b.Host && a.Scheme == b.Scheme }
