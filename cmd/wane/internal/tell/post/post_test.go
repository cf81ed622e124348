package post

import (
	"bytes"
	"context"
	"crypto/hmac"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"wane/cmd/wane/internal/tell"
	"wane/ingest/collect/secret"
	"wane/ingest/site"
	"wane/ingest/source"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func clock() time.Time { return noon }

// folder is a site folder with a page, a password and a key.
func folder(t *testing.T) site.Folder {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{"word": mailWord + "\n", "key": "xyzzy-key\n",
		"reports/index.html": "<p>the page</p>"} {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return site.Folder(dir)
}

// told puts one alarm and one digest into the outbox.
func told(t *testing.T, f site.Folder) {
	t.Helper()
	err := Change(context.Background(), f, func(m *tell.Memory) {
		m.Learn(tell.Facts{Known: []tell.Kind{tell.Silent}, List: []tell.Fact{
			{Key: "s", Kind: tell.Silent, Where: "sensor L\u00f6gger-1", What: "nothing read", Do: "look at its power",
				Alarm: true},
		}}, noon)
		s := tell.Settings{Site: "Invented site", SoonDays: 30}
		m.Alarms(s, noon)
		m.Digest(s, noon)
	})
	if err != nil {
		t.Fatal(err)
	}
}

func outbox(t *testing.T, f site.Folder) []tell.Message {
	t.Helper()
	m, err := Load(f)
	if err != nil {
		t.Fatal(err)
	}
	return m.Outbox
}

// Mail goes with login over TLS, under the message's number; the page goes with a
// digest.
func TestMailArrives(t *testing.T) {
	f := folder(t)
	box := newPostbox(t, string(f))
	set := box.mail()
	set.Attach = true
	told(t, f)
	ids := []string{outbox(t, f)[0].ID, outbox(t, f)[1].ID}
	if err := Deliver(context.Background(), f, Channels(f, site.Tell{Mail: set}), clock); err != nil {
		t.Fatal(err)
	}
	got := box.got()
	if len(got) != 2 || len(outbox(t, f)) != 0 {
		t.Fatalf("%d mails, %d still wait", len(got), len(outbox(t, f)))
	}
	for i, text := range got {
		for _, want := range []string{"Message-ID: <" + ids[i] + "@wane>", "X-Wane-Message: " + ids[i],
			"<a@example.org>, <b@example.org>", "Auto-Submitted: auto-generated"} {
			if !strings.Contains(text, want) {
				t.Errorf("mail %d lacks %q:\n%s", i, want, text)
			}
		}
		if page := strings.Contains(text, `filename="report.html"`); page != (i == 1) {
			t.Errorf("mail %d: the page goes with it: %v", i, page)
		}
	}
	if !strings.Contains(got[0], "Importance: high") {
		t.Errorf("an alarm like any mail:\n%s", got[0])
	}
}

// What the mail server does wrong loses no mail and shows no password.
func TestMailWaits(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*postbox, *site.Mail, site.Folder)
		mend  func(*postbox, *site.Mail, site.Folder)
		words string
	}{
		"refused": {spoil: func(b *postbox, _ *site.Mail, _ site.Folder) { b.refuse = 2 }, words: "try again later"},
		"cut":     {spoil: func(b *postbox, _ *site.Mail, _ site.Folder) { b.cut = 2 }},
		"wrong login": {
			spoil: func(_ *postbox, _ *site.Mail, f site.Folder) {
				os.WriteFile(f.Path("word"), []byte("xyzzy-wrong"), 0o600)
			},
			mend: func(_ *postbox, _ *site.Mail, f site.Folder) { os.WriteFile(f.Path("word"), []byte(mailWord), 0o600) },
		},
		"open secret": {
			spoil: func(_ *postbox, _ *site.Mail, f site.Folder) { os.Chmod(f.Path("word"), 0o644) },
			mend:  func(_ *postbox, _ *site.Mail, f site.Folder) { os.Chmod(f.Path("word"), 0o600) },
			words: "chmod 600",
		},
		"no secret": {
			spoil: func(_ *postbox, m *site.Mail, _ site.Folder) { m.Password = source.Secret{Env: "WANE_TEST_NO_SUCH"} },
			mend:  func(_ *postbox, m *site.Mail, _ site.Folder) { m.Password = source.Secret{File: "word"} },
			words: "WANE_TEST_NO_SUCH is not set",
		},
		"unknown certificate": {
			spoil: func(_ *postbox, m *site.Mail, _ site.Folder) { m.CA = "" },
			mend:  func(_ *postbox, m *site.Mail, _ site.Folder) { m.Certificate = site.Unchecked },
			words: "certificate",
		},
		"nobody there": {
			spoil: func(_ *postbox, m *site.Mail, _ site.Folder) { m.Port = 1 },
			mend:  func(b *postbox, m *site.Mail, _ site.Folder) { m.Port = b.port },
			words: "refused",
		},
	} {
		t.Run(name, func(t *testing.T) {
			f := folder(t)
			box := newPostbox(t, string(f))
			set := box.mail()
			told(t, f)
			c.spoil(box, set, f)
			err := Deliver(context.Background(), f, Channels(f, site.Tell{Mail: set}), clock)
			if second := Deliver(context.Background(), f, Channels(f, site.Tell{Mail: set}), clock); second == nil {
				t.Error("the second message went") // each is tried once
			}
			if err == nil || !strings.Contains(err.Error(), c.words) || strings.Contains(err.Error(), "xyzzy") {
				t.Errorf("the error says %v", err)
			}
			if b, _ := os.ReadFile(f.Path(memoryFile)); strings.Contains(string(b), "xyzzy") || len(outbox(t, f)) != 2 {
				t.Errorf("what waits: %s", b)
			}
			if c.mend != nil {
				c.mend(box, set, f)
			}
			if err := Deliver(context.Background(), f, Channels(f, site.Tell{Mail: set}), clock); err != nil ||
				len(box.got()) != 0 {
				t.Errorf("tried before its time: %d mails, %v", len(box.got()), err)
			}
			later := func() time.Time { return noon.Add(time.Minute) }
			if err := Deliver(context.Background(), f, Channels(f, site.Tell{Mail: set}), later); err != nil ||
				len(box.got()) != 2 {
				t.Errorf("%d mails after a minute, %v", len(box.got()), err)
			}
		})
	}
}

// A process that is killed after a mail went and before that was noted sends it
// again under the same number; nothing is lost.
func TestKilledInBetweenSendsTwice(t *testing.T) {
	f := folder(t)
	box := newPostbox(t, string(f))
	channels := Channels(f, site.Tell{Mail: box.mail()})
	told(t, f)
	before, err := os.ReadFile(f.Path(memoryFile))
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := os.WriteFile(f.Path(memoryFile), before, 0o644); err != nil { // as if nothing had been noted
			t.Fatal(err)
		}
		if err := Deliver(context.Background(), f, channels, clock); err != nil {
			t.Fatal(err)
		}
	}
	number := func(text string) string {
		_, rest, _ := strings.Cut(text, "Message-ID: ")
		id, _, _ := strings.Cut(rest, "\r\n")
		return id
	}
	got := box.got()
	if len(got) != 4 || number(got[0]) != number(got[2]) || number(got[1]) != number(got[3]) ||
		number(got[0]) == number(got[1]) || number(got[0]) == "" {
		t.Errorf("%d mails: %s", len(got), got)
	}
}

// hook is a webhook's other end.
type hook struct {
	mu     sync.Mutex
	answer int
	bodies [][]byte
	heads  []http.Header
}

func (h *hook) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	b, err := io.ReadAll(r.Body)
	if err != nil {
		return
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.bodies, h.heads = append(h.bodies, b), append(h.heads, r.Header)
	if h.answer == http.StatusFound {
		w.Header().Set("Location", "/elsewhere")
	}
	w.WriteHeader(h.answer)
}

// A posted message is JSON, signed by the key over its time and its bytes.
func TestWebhookIsSigned(t *testing.T) {
	f := folder(t)
	h := &hook{answer: 204}
	s := httptest.NewServer(h)
	defer s.Close()
	told(t, f)
	w := &webhook{folder: f, vault: secret.New(string(f)),
		set: site.Webhook{URL: s.URL + "/in?token=xyzzy", Secret: source.Secret{File: "key"}}, now: clock}
	if err := Deliver(context.Background(), f, []Channel{w}, clock); err != nil {
		t.Fatal(err)
	}
	if len(h.bodies) != 2 {
		t.Fatalf("%d posted", len(h.bodies))
	}
	var got posted
	if err := json.Unmarshal(h.bodies[0], &got); err != nil {
		t.Fatal(err)
	}
	head := h.heads[0]
	if got.Kind != tell.AlarmMessage || len(got.Changes.New) != 1 || got.ID == "" || head.Get(headID) != got.ID ||
		head.Get("Content-Type") != "application/json" {
		t.Errorf("%+v %v", got, head)
	}
	if want := Sign("xyzzy-key", fmt.Sprint(noon.Unix()), h.bodies[0]); !hmac.Equal([]byte(head.Get(headSignature)),
		[]byte(want)) {
		t.Errorf("signed %s, want %s", head.Get(headSignature), want)
	}
	// by another program: printf '1.{}' | openssl dgst -sha256 -hmac key
	if got, want := Sign("key", "1", []byte("{}")), "sha256=1ba6b8171186efc613e8bcc0cbdab2748f24984d7c5a84faa2637afa0e40d224"; got != want {
		t.Errorf("the signature of a known body is %s, want %s", got, want)
	}
}

// What is not taken with 2xx waits, wherever it is sent on to; no error repeats
// the address or the key.
func TestWebhookWaits(t *testing.T) {
	for _, answer := range []int{302, 401, 500} {
		f := folder(t)
		h := &hook{answer: answer}
		s := httptest.NewServer(h)
		told(t, f)
		channels := Channels(f, site.Tell{Webhook: &site.Webhook{URL: s.URL + "/xyzzy", Secret: source.Secret{File: "key"}}})
		err := Deliver(context.Background(), f, channels, clock)
		if err == nil || !strings.Contains(err.Error(), fmt.Sprint(answer)) || strings.Contains(err.Error(), "xyzzy") ||
			len(h.bodies) != 1 {
			t.Errorf("%d: %v, %d posted", answer, err, len(h.bodies))
		}
		s.Close()
		err = Deliver(context.Background(), f, channels, func() time.Time { return noon.Add(time.Minute) })
		if err == nil || strings.Contains(err.Error(), "xyzzy") || len(outbox(t, f)) != 2 {
			t.Errorf("nobody there: %v, %d wait", err, len(outbox(t, f)))
		}
	}
}

// Of two channels one that is down holds up nothing of the other.
func TestOneChannelDown(t *testing.T) {
	f := folder(t)
	h := &hook{answer: 200}
	s := httptest.NewServer(h)
	defer s.Close()
	box := newPostbox(t, string(f))
	box.refuse = 1
	told(t, f)
	channels := Channels(f, site.Tell{Mail: box.mail(),
		Webhook: &site.Webhook{URL: s.URL, Secret: source.Secret{File: "key"}}})
	if err := Deliver(context.Background(), f, channels, clock); err == nil || len(h.bodies) != 2 {
		t.Errorf("%d posted, %v", len(h.bodies), err)
	}
	if err := Deliver(context.Background(), f, channels, func() time.Time { return noon.Add(time.Minute) }); err != nil {
		t.Error(err)
	}
	if len(box.got()) != 2 || len(h.bodies) != 2 || len(outbox(t, f)) != 0 {
		t.Errorf("%d mails, %d posted, %d wait", len(box.got()), len(h.bodies), len(outbox(t, f)))
	}
}

// A memory that is damaged is an error with a way out, not a new beginning.
func TestDamagedMemory(t *testing.T) {
	f := folder(t)
	told(t, f)
	b, err := os.ReadFile(f.Path(memoryFile))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(f.Path(memoryFile), bytes.TrimSuffix(b, []byte("}\n")), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := Change(context.Background(), f, func(*tell.Memory) {}); err == nil ||
		!strings.Contains(err.Error(), memoryFile) {
		t.Errorf("%v", err)
	}
}
