package mqtt

import (
	"crypto/sha256"
	"encoding/json"
	"time"

	"github.com/eclipse/paho.golang/paho"

	"wane/ingest/decode/messages"
)

// known remembers the messages that were appended last: as many as may have been
// on their way without the broker hearing of their acknowledgement, twice over.
// A broker gives out packet ids in turn, so that among so few each is one
// message's.
type known struct {
	keys [2 * inFlight]key
	next int
}

type key struct {
	id  uint16 // 0: none
	sum [sha256.Size]byte
}

func keyOf(id uint16, topic string, payload []byte) key {
	h := sha256.New()
	h.Write([]byte(topic))
	h.Write([]byte{0})
	h.Write(payload)
	k := key{id: id}
	h.Sum(k.sum[:0])
	return k
}

// newKnown takes over what the spool holds of earlier runs.
func newKnown(lines [][]byte) *known {
	k := &known{}
	for _, text := range lines {
		var l messages.Line
		if err := json.Unmarshal(text, &l); err == nil && l.ID != 0 {
			k.add(keyOf(l.ID, l.Topic, l.Bytes()))
		}
	}
	return k
}

func (k *known) add(x key) {
	k.keys[k.next] = x
	k.next = (k.next + 1) % len(k.keys)
}

// take gives the line of a message; fresh is false for one that was appended
// already and is only sent again.
func (k *known) take(at time.Time, p *paho.Publish) (text []byte, fresh bool) {
	x := keyOf(p.PacketID, p.Topic, p.Payload)
	if p.Duplicate() {
		for _, old := range k.keys {
			if old == x {
				return nil, false
			}
		}
	}
	if p.PacketID != 0 {
		k.add(x)
	}
	return line(at, p).Encode(), true
}
