package mqtt_test

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"net/url"
	"testing"
	"time"

	"github.com/eclipse/paho.golang/autopaho"
	"github.com/eclipse/paho.golang/paho"
	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/hooks/auth"
	"github.com/mochi-mqtt/server/v2/listeners"

	"wane/ingest/collect"
	"wane/ingest/collect/collecttest"
	own "wane/ingest/collect/mqtt"
)

func make_(s collect.Setting) (any, error) { return own.New(s) }

// broker is what the tests need of one.
type broker interface {
	addr() string
	restart(t *testing.T) // with all it has
	password(t *testing.T, wane string)
}

// counterpart is a broker with a sender, behind a proxy.
type counterpart struct {
	b     broker
	proxy *collecttest.Proxy
	form  string // of the messages: json or senml
	last  []collecttest.Reading
}

func (c *counterpart) Description(string) string {
	read := `  - {topic: "+/ppfd", payload: json, sensor: "{1}", channel: ppfd, time: $.t, values: [{path: $.v}]}` +
		"\ntime: {format: epoch-s}"
	if c.form == "senml" {
		read = `  - {topic: "+/ppfd", payload: senml}`
	}
	return fmt.Sprintf("name: x\ncollect:\n  timeout: 2s\n  mqtt:\n    broker: mqtt://%s\n    topics: [\"+/ppfd\"]\n    client: wane-x\n    user: wane\n    password: env:%s\nmessages:\n%s\n",
		c.proxy.Addr, collecttest.SecretEnv, read)
}

func (c *counterpart) Offer(t *testing.T, r ...collecttest.Reading) {
	c.last = r
	var texts []string
	for _, x := range r {
		if c.form == "senml" {
			texts = append(texts, fmt.Sprintf(`[{"bn":"bay-1/ppfd","t":%d,"v":%d}]`, x.At.Unix(), x.Value))
		} else {
			texts = append(texts, fmt.Sprintf(`{"t":%d,"v":%d}`, x.At.Unix(), x.Value))
		}
	}
	publish(t, c.b.addr(), "bay-1/ppfd", false, texts...)
}

func (c *counterpart) Again(t *testing.T) { c.Offer(t, c.last...) }

func (c *counterpart) Break(t *testing.T, f collecttest.Fault) {
	if f == collecttest.Denied {
		c.b.password(t, "another")
		return
	}
	c.proxy.Break(f, 200)
}

func (c *counterpart) Mend(t *testing.T) {
	c.b.password(t, collecttest.Secret)
	c.proxy.Mend()
}

func (c *counterpart) Restart(t *testing.T) { c.b.restart(t) }

func factory(form string, start func(t *testing.T) broker) collecttest.Factory {
	return collecttest.Factory{
		Start: func(t *testing.T) collecttest.Counterpart {
			c := &counterpart{b: start(t), form: form}
			c.proxy = collecttest.StartProxy(t, c.b.addr())
			session(t, c.b.addr(), "wane-x", "+/ppfd")
			return c
		},
		Make: make_, Faults: []collecttest.Fault{collecttest.Slow, collecttest.Cut, collecttest.Denied, collecttest.Down},
		Piecewise: true, Queued: true,
	}
}

// client connects as a client of the tests' own and hands the connection to fn.
func client(t *testing.T, addr, id, user, password string, keep uint32,
	fn func(context.Context, *autopaho.ConnectionManager)) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	c := autopaho.ClientConfig{
		ServerUrls: []*url.URL{{Scheme: "mqtt", Host: addr}}, KeepAlive: 20, SessionExpiryInterval: keep,
		ConnectUsername: user, ConnectPassword: []byte(password),
		ReconnectBackoff: func(int) time.Duration { return 20 * time.Millisecond },
		OnConnectError:   func(err error) { t.Log(err) },
	}
	c.ClientID = id
	m, err := autopaho.NewConnection(ctx, c)
	if err != nil {
		t.Fatal(err)
	}
	if err := m.AwaitConnection(ctx); err != nil {
		t.Fatal(err)
	}
	fn(ctx, m)
	if err := m.Disconnect(ctx); err != nil {
		t.Fatal(err)
	}
}

// publish sends messages with QoS 1 and waits until the broker has them.
func publish(t *testing.T, addr, topic string, retain bool, texts ...string) {
	t.Helper()
	client(t, addr, "sender", "sender", "sender", 0, func(ctx context.Context, m *autopaho.ConnectionManager) {
		for _, text := range texts {
			if _, err := m.Publish(ctx, &paho.Publish{QoS: 1, Topic: topic, Payload: []byte(text), Retain: retain}); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// session begins a session at the broker, so that what is sent before the first
// collection is kept for it.
func session(t *testing.T, addr, id string, topics ...string) {
	t.Helper()
	client(t, addr, id, "wane", collecttest.Secret, 600, func(ctx context.Context, m *autopaho.ConnectionManager) {
		for _, topic := range topics {
			if _, err := m.Subscribe(ctx, &paho.Subscribe{Subscriptions: []paho.SubscribeOptions{{Topic: topic,
				QoS: 1}}}); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// inProcess is a broker as a Go library.
type inProcess struct {
	at     string
	server *mochi.Server
	secret string
}

func startInProcess(t *testing.T) broker {
	b := &inProcess{secret: collecttest.Secret}
	b.listen(t, "127.0.0.1:0")
	t.Cleanup(func() { b.server.Close() })
	return b
}

type letIn struct {
	auth.AllowHook
	b *inProcess
}

func (l *letIn) OnConnectAuthenticate(_ *mochi.Client, p mochiPacket) bool {
	return string(p.Connect.Username) != "wane" || string(p.Connect.Password) == l.b.secret
}

func (b *inProcess) listen(t *testing.T, at string) {
	t.Helper()
	b.server = mochi.New(&mochi.Options{Logger: slog.New(slog.DiscardHandler)})
	if err := b.server.AddHook(&letIn{b: b}, nil); err != nil {
		t.Fatal(err)
	}
	ln, err := net.Listen("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	b.at = ln.Addr().String()
	if err := b.server.AddListener(listeners.NewNet("t", ln)); err != nil {
		t.Fatal(err)
	}
	go b.server.Serve()
}

func (b *inProcess) addr() string                       { return b.at }
func (b *inProcess) password(_ *testing.T, wane string) { b.secret = wane }

// restart ends the connections: this broker keeps sessions in memory only.
func (b *inProcess) restart(*testing.T) {
	for _, c := range b.server.Clients.GetAll() {
		c.Stop(errRestart)
	}
}
