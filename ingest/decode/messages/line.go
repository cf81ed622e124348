// Package messages reads what the collector itself writes: JSON lines, one for
// each message that a broker sent or each block of registers that a device
// answered, as it came. What it means is said by the description, so that a
// mistake there is mended by reading the original again.
//
//	{"at":"2026-03-01T10:00:00.25Z","topic":"bays/b1/ppfd","payload":"612.5"}
//	{"at":"2026-03-01T10:00:00.31Z","unit":1,"kind":"holding","address":100,"words":[17530,0]}
package messages

import (
	"encoding/json"
	"time"
	"unicode/utf8"
)

// Line is one message, or one block of registers.
type Line struct {
	At time.Time `json:"at"` // when it came

	Topic    string `json:"topic,omitempty"`
	Payload  string `json:"payload,omitempty"`   // as text
	Binary   []byte `json:"payload64,omitempty"` // where it is no text
	ID       uint16 `json:"id,omitempty"`        // packet id, by which one that is sent again is known
	Retained bool   `json:"retained,omitempty"`  // kept by the broker from before: At does not tell when it was sent

	Unit    int      `json:"unit,omitempty"`
	Kind    string   `json:"kind,omitempty"` // holding or input
	Address int      `json:"address,omitempty"`
	Words   []uint16 `json:"words,omitempty"`
}

// Message is the line of a message.
func Message(at time.Time, topic string, payload []byte, retained bool) Line {
	l := Line{At: at.UTC(), Topic: topic, Retained: retained}
	if utf8.Valid(payload) {
		l.Payload = string(payload)
	} else {
		l.Binary = payload
	}
	return l
}

// Encode gives the line as it is written, with its end.
func (l Line) Encode() []byte {
	b, err := json.Marshal(l)
	if err != nil {
		panic(err) // texts, numbers and a time that a clock gave
	}
	return append(b, '\n')
}

// Bytes is the message's payload.
func (l *Line) Bytes() []byte {
	if l.Binary != nil {
		return l.Binary
	}
	return []byte(l.Payload)
}
