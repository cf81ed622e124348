// Package mqtt subscribes at a broker (MQTT 5).
//
//  1. The session is one that the broker keeps: under a client id of its own, it
//     holds what comes while wane is away. Subscriptions are with QoS 1.
//  2. Messages are gathered for as long as the disk is busy with those before
//     them, then appended as one group and synced. Only then is each acknowledged.
//  3. A message that the broker sends again, because it did not hear the
//     acknowledgement, is told by its packet id, topic and payload among those
//     appended last, and acknowledged without being added.
//  4. What a broker had retained is kept, and counts as a reading only where it
//     says itself when it was measured: package decode/messages leaves it out
//     otherwise.
//
// The connection is made again by itself; up tells how it stands.
package mqtt

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/eclipse/paho.golang/autopaho"
	"github.com/eclipse/paho.golang/paho"

	"wane/ingest/collect"
	"wane/ingest/collect/internal/trust"
	"wane/ingest/decode/messages"
	"wane/ingest/source"
)

// inFlight is how many messages the broker may send ahead of their
// acknowledgement, and so the most that a group holds.
const inFlight = 64

// farewell is how long the end of a connection may take.
const farewell = 5 * time.Second

// Source is a subscription. Make it with New.
type Source struct {
	set  collect.Setting
	spec *source.MQTT
}

var _ collect.Listener = (*Source)(nil)

// New makes the source that its description's collect.mqtt describes.
func New(set collect.Setting) (*Source, error) {
	return &Source{set: set, spec: set.Description.Collect.MQTT}, nil
}

// state is what makes the session the same one after a restart.
type state struct {
	Client string   `json:"client"`
	Topics []string `json:"topics"` // subscribed to in the session
}

// Listen takes messages into the box until ctx ends.
func (s *Source) Listen(ctx context.Context, box collect.Box, up func(error)) error {
	var st state
	if _, err := box.Load(&st); err != nil {
		return err
	}
	if err := s.name(&st, box); err != nil {
		return err
	}
	came := make(chan paho.PublishReceived, 2*inFlight)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	conf, err := s.config(ctx, st, came, up)
	if err != nil {
		return collect.Refused(err)
	}
	var subscribing sync.WaitGroup
	defer subscribing.Wait()
	var one sync.Mutex // over st
	conf.OnConnectionUp = func(m *autopaho.ConnectionManager, ack *paho.Connack) {
		subscribing.Go(func() {
			one.Lock()
			defer one.Unlock()
			if ack.SessionPresent && slices.Equal(st.Topics, s.spec.Topics) {
				up(nil) // the session has its subscriptions
				return
			}
			up(s.subscribe(ctx, m, &st, box))
		})
	}
	m, err := autopaho.NewConnection(ctx, *conf)
	if err != nil {
		return err
	}
	defer func() {
		cancel()
		end, stop := context.WithTimeout(context.Background(), farewell)
		defer stop()
		_ = m.Disconnect(end) // what is not acknowledged comes again
	}()
	return s.keep(ctx, box, came)
}

// name gives the session its client id, once.
func (s *Source) name(st *state, box collect.Box) error {
	id := make([]byte, 6)
	if _, err := rand.Read(id); err != nil {
		return err
	}
	switch {
	case s.set.Try:
		st.Client = "wane-try-" + hex.EncodeToString(id)
		return nil
	case s.spec.Client != "":
		st.Client = s.spec.Client
		return nil
	case st.Client != "":
		return nil
	}
	st.Client = "wane-" + s.set.Description.Name + "-" + hex.EncodeToString(id)
	return box.Save(*st)
}

// config is the connection's.
func (s *Source) config(ctx context.Context, st state, came chan<- paho.PublishReceived,
	up func(error)) (*autopaho.ClientConfig, error) {
	u, err := url.Parse(s.spec.Broker)
	if err != nil {
		return nil, err
	}
	tls, err := trust.Config(s.set.Dir, s.spec.TLS)
	if err != nil {
		return nil, err
	}
	password, err := s.set.Vault.Read(s.spec.Password)
	if err != nil {
		return nil, err
	}
	var connected atomic.Bool
	c := &autopaho.ClientConfig{
		ServerUrls: []*url.URL{u}, TlsCfg: tls, KeepAlive: 30,
		ConnectUsername: s.spec.User, ConnectPassword: []byte(password),
		CleanStartOnInitialConnection: s.set.Try,
		ConnectTimeout:                s.set.Description.Collect.Timeout.Std(),
		ConnectPacketBuilder: func(p *paho.Connect, _ *url.URL) (*paho.Connect, error) {
			window, largest := uint16(inFlight), uint32(min(int64(s.set.Description.Collect.Limit), 256<<20))
			p.Properties = &paho.ConnectProperties{ReceiveMaximum: &window, MaximumPacketSize: &largest}
			if keep := uint32(s.spec.Session.Std() / time.Second); !s.set.Try {
				p.Properties.SessionExpiryInterval = &keep
			}
			return p, nil
		},
		ReconnectBackoff: func(n int) time.Duration {
			if n == 0 && !connected.Swap(true) {
				return 0
			}
			return collect.Pause(n + 1)
		},
		OnConnectError:   func(err error) { up(sayConnect(err, u.Host)) },
		OnConnectionDown: func() bool { up(fmt.Errorf("the connection to %s was lost", u.Host)); return true },
	}
	c.ClientID = st.Client
	c.EnableManualAcknowledgment = true
	c.OnPublishReceived = []func(paho.PublishReceived) (bool, error){func(p paho.PublishReceived) (bool, error) {
		select {
		case came <- p:
		case <-ctx.Done():
		}
		return true, nil
	}}
	return c, nil
}

// sayConnect puts words to a refusal.
func sayConnect(err error, host string) error {
	var refused *autopaho.ConnackError
	if !errors.As(err, &refused) {
		return fmt.Errorf("cannot connect to %s: %w", host, errors.Unwrap(err))
	}
	// The codes are those of MQTT 5.0, section 3.2.2.2.
	switch refused.ReasonCode {
	case 0x84:
		return collect.Refused(fmt.Errorf("%s does not know MQTT 5", host))
	case 0x85:
		return collect.Refused(fmt.Errorf("%s does not take the client id; write another under collect.mqtt.client", host))
	case 0x86, 0x87:
		return collect.Refused(fmt.Errorf("%s refuses user or password", host))
	}
	return fmt.Errorf("%s refuses the connection (reason %#x %s)", host, refused.ReasonCode, refused.Reason)
}

// subscribe brings the session's subscriptions in line with the description.
func (s *Source) subscribe(ctx context.Context, m *autopaho.ConnectionManager, st *state, box collect.Box) error {
	if gone := slices.DeleteFunc(slices.Clone(st.Topics),
		func(t string) bool { return slices.Contains(s.spec.Topics, t) }); len(gone) > 0 {
		if _, err := m.Unsubscribe(ctx, &paho.Unsubscribe{Topics: gone}); err != nil {
			return fmt.Errorf("unsubscribe from what is no longer described: %w", err)
		}
	}
	if !slices.Equal(st.Topics, s.spec.Topics) { // before: what is not saved could not be taken back
		st.Topics = s.spec.Topics
		if err := box.Save(*st); err != nil {
			return err
		}
	}
	sub := &paho.Subscribe{}
	for _, t := range s.spec.Topics {
		// Retained messages come with a subscription that is new, not with every connection.
		sub.Subscriptions = append(sub.Subscriptions, paho.SubscribeOptions{Topic: t, QoS: 1, RetainHandling: 1})
	}
	for try := 1; ; try++ {
		ack, err := m.Subscribe(ctx, sub)
		switch {
		case err == nil:
			return nil
		case ack == nil:
			return fmt.Errorf("subscribe: %w", err)
		case try == 2*inFlight || !slices.Contains(ack.Reasons, idInUse):
			return collect.Refused(fmt.Errorf("the broker does not let %q be subscribed to (reasons %#x)",
				s.spec.Topics, ack.Reasons))
		}
	}
}

// idInUse is a broker's answer where the packet id is one of a message under way.
// By the standard (2.2.1) the two sides' ids are apart; the next id will do.
const idInUse = 0x91

// keep appends what came, group by group, and acknowledges it then.
func (s *Source) keep(ctx context.Context, box collect.Box, came <-chan paho.PublishReceived) error {
	known := newKnown(box.Recent())
	for {
		var group []paho.PublishReceived
		select {
		case <-ctx.Done():
			return nil
		case p := <-came:
			group = append(group, p)
		}
	more:
		for len(group) < inFlight {
			select {
			case p := <-came:
				group = append(group, p)
			default:
				break more
			}
		}
		var lines [][]byte
		for _, p := range group {
			if l, fresh := known.take(s.set.Now(), p.Packet); fresh {
				lines = append(lines, l)
			}
		}
		if err := box.Append(ctx, lines...); err != nil {
			return err
		}
		for _, p := range group {
			_ = p.Client.Ack(p.Packet) // of a connection that is gone: it comes again, and is known
		}
	}
}

// line is how a message is kept.
func line(at time.Time, p *paho.Publish) messages.Line {
	l := messages.Message(at, p.Topic, p.Payload, p.Retain)
	l.ID = p.PacketID
	return l
}
