package tell

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"time"
)

// Settings are what a site wants to be told, and how.
type Settings struct {
	Site      string
	Invented  bool
	Heartbeat bool            // a digest is sent also where nothing is new
	SoonDays  int             // a lamp is due soon within so many days
	Link      string          // where the pages are, "" unknown
	Who       map[Duty]string // who sees to what
}

// Memory is what people were told, and what is on its way to them.
type Memory struct {
	Latest   Facts           `json:"latest"`    // as known now
	Told     Facts           `json:"told"`      // as of the last digest
	DigestAt time.Time       `json:"digest_at"` // of the last digest, or of the beginning
	Alarmed  map[string]bool `json:"alarmed"`   // matters that an alarm told of and that last
	Number   int             `json:"number"`    // of messages made
	Outbox   []Message       `json:"outbox"`    // not yet taken by every channel
}

// Message is one thing told. Its ID stays the same however often it is sent.
type Message struct {
	ID      string             `json:"id"`
	Kind    string             `json:"kind"` // alarm, digest or heartbeat
	Site    string             `json:"site"`
	At      time.Time          `json:"at"`
	Subject string             `json:"subject"`
	Text    string             `json:"text"`
	Changes Changes            `json:"changes"`
	Taken   map[string]bool    `json:"taken"`             // by which channels
	Trouble map[string]Trouble `json:"trouble,omitempty"` // with which channels
}

// Trouble is what keeps a channel from taking a message.
type Trouble struct {
	Tries  int       `json:"tries"`   // that failed
	NotYet time.Time `json:"not_yet"` // when it may be tried again
	Error  string    `json:"error"`   // of the last try
}

// The kinds of messages.
const (
	AlarmMessage     = "alarm"
	DigestMessage    = "digest"
	HeartbeatMessage = "heartbeat"
)

// Learn takes in what was found. What a kind's facts were before is replaced
// where the new ones say that they looked for it.
func (m *Memory) Learn(f Facts, now time.Time) {
	if m.DigestAt.IsZero() {
		m.DigestAt = now
	}
	m.Latest = m.Latest.with(f)
}

// Alarms puts what cannot wait and was not yet told into the outbox, as one
// message. A matter that went and came again is told again.
func (m *Memory) Alarms(s Settings, now time.Time) {
	last := map[string]bool{}
	var fresh []Fact
	for _, x := range m.Latest.List {
		if !x.Alarm {
			continue
		}
		last[x.Key] = true
		if !m.Alarmed[x.Key] {
			fresh = append(fresh, x)
		}
	}
	m.Alarmed = last
	if len(fresh) == 0 {
		return
	}
	c := Changes{New: fresh}
	m.add(s, Message{Kind: AlarmMessage, At: now, Subject: alarmSubject(s, fresh), Changes: c}, func(id string) string {
		return alarmText(s, fresh, id)
	})
}

// Digest puts what changed since the last digest into the outbox. Where nothing
// did, nothing is sent, unless a heartbeat is wanted.
func (m *Memory) Digest(s Settings, now time.Time) {
	c := Compare(m.Told, m.Latest, now, s.SoonDays)
	since := m.DigestAt
	if m.Told.Known == nil {
		since = time.Time{} // nothing was told before
	}
	m.Told, m.DigestAt = m.Latest, now
	if c.None() && !s.Heartbeat {
		return
	}
	kind := DigestMessage
	if c.None() {
		kind = HeartbeatMessage
	}
	m.add(s, Message{Kind: kind, At: now, Subject: digestSubject(s, c), Changes: c}, func(id string) string {
		return digestText(s, c, m.Latest, since, id)
	})
}

func (m *Memory) add(s Settings, x Message, text func(id string) string) {
	m.Number++
	h := sha256.Sum256(fmt.Appendf(nil, "%s\x00%d\x00%s\x00%s",
		s.Site, m.Number, x.At.UTC().Format(time.RFC3339Nano), x.Subject))
	x.ID, x.Site, x.Taken = hex.EncodeToString(h[:12]), s.Site, map[string]bool{}
	x.Text = text(x.ID)
	m.Outbox = append(m.Outbox, x)
}

// Due gives the first message that a channel has not taken and that it may be
// tried with now.
func (m *Memory) Due(channels []string, now time.Time) (id, channel string, ok bool) {
	for _, x := range m.Outbox {
		for _, c := range channels {
			if !x.Taken[c] && !now.Before(x.Trouble[c].NotYet) {
				return x.ID, c, true
			}
		}
	}
	return "", "", false
}

// Message gives a message of the outbox, nil where it is not there any more.
func (m *Memory) Message(id string) *Message {
	i := slices.IndexFunc(m.Outbox, func(x Message) bool { return x.ID == id })
	if i < 0 {
		return nil
	}
	return &m.Outbox[i]
}

// Sent notes that a channel has taken a message. What all the channels have taken
// leaves the outbox.
func (m *Memory) Sent(id, channel string, channels []string) {
	if x := m.Message(id); x != nil {
		x.Taken[channel] = true
		delete(x.Trouble, channel)
	}
	m.Outbox = slices.DeleteFunc(m.Outbox, func(x Message) bool {
		return !slices.ContainsFunc(channels, func(c string) bool { return !x.Taken[c] })
	})
}

// The waits between tries: a minute, then twice as long each time.
const (
	firstWait = time.Minute
	mostWait  = 6 * time.Hour
)

// Failed notes that a message could not be sent by a channel, and when it may be
// tried again. Other channels are not held up by it.
func (m *Memory) Failed(id, channel, why string, now time.Time) {
	x := m.Message(id)
	if x == nil {
		return
	}
	if x.Trouble == nil {
		x.Trouble = map[string]Trouble{}
	}
	t := x.Trouble[channel]
	t.NotYet = now.Add(min(mostWait, firstWait<<min(t.Tries, 20)))
	t.Tries++
	t.Error = why
	x.Trouble[channel] = t
}
