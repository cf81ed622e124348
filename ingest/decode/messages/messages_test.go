package messages_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"wane/ingest/decode"
	"wane/ingest/decode/messages"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// sink writes what it is given as text.
type sink struct{ got, rejects []string }

func (s *sink) Readings(b *reading.Batch) error {
	for i := range b.Time {
		v := b.Value[i]
		s.got = append(s.got, fmt.Sprintf("%s %s %s", b.Series[b.Of[i]],
			time.UnixMicro(b.Time[i]).UTC().Format(time.RFC3339Nano), decimal(v)))
	}
	return nil
}

func decimal(v reading.Value) string {
	return fmt.Sprintf("%.*f", v.Digits, v.Float())
}

func (s *sink) Reject(r reading.Reject) error {
	s.rejects = append(s.rejects, fmt.Sprintf("%d %s %s", r.Line, r.Column, r.Code))
	return nil
}

func read(t *testing.T, description, lines string) *sink {
	t.Helper()
	d, err := source.Load([]byte(description), "d")
	if err != nil {
		t.Fatal(err)
	}
	s := &sink{}
	if _, err := decode.File(t.Context(), strings.NewReader(lines), "x.jsonl", d, s,
		decode.Now(time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC))); err != nil {
		t.Fatal(err)
	}
	return s
}

func same(t *testing.T, got []string, want string) {
	t.Helper()
	if g := strings.Join(got, "\n"); g != strings.TrimSpace(want) {
		t.Errorf("got\n%s\nwant\n%s", g, want)
	}
}

var at = time.Date(2026, 3, 1, 10, 0, 0, 250_000_000, time.UTC)

func message(topic, payload string, retained bool) string {
	return string(messages.Message(at, topic, []byte(payload), retained).Encode())
}

func TestMessages(t *testing.T) {
	const d = `name: m
zone: Europe/Amsterdam
time: {format: yyyy-MM-dd HH:mm:ss}
collect: {mqtt: {broker: "mqtts://broker.example", topics: "#"}}
messages:
  - {topic: "s/+/state", payload: json, sensor: "{1}", time: $.at, values: [{path: $.light.ppfd, channel: ppfd}, {path: "$['supply v']", channel: v, sensor: mains}]}
  - {topic: "s/+/now", payload: json, sensor: "{1}", values: [{path: $.v, channel: v}]}
  - {topic: "pack/#", payload: senml, channel: x}
  - {topic: "+/+/#", payload: number, sensor: "{1}-{2}", channel: "{3}"}
`
	s := read(t, d, message("s/b1/state", `{"at":"2026-03-01 10:30:00","light":{"ppfd":612.50},"supply v":"229.8"}`, true)+
		message("s/b1/state", `{"at":"2026-03-01 10:31:00","light":{"ppfd":null}}`, false)+
		message("s/b1/state", `{"light":{"ppfd":1}}`, false)+
		message("s/b1/state", `not json`, false)+
		message("s/b1/now", `{"v":7}`, false)+message("s/b1/now", `{"v":7}`, true)+message("s/b1/now", `{"v":{"a":1}}`,
		false)+
		message("a/b/c/d", " 12.30\n", false)+message("a/b/c/d", "12.30", true)+message("a/b/c", "", false)+message("a/b/c",
		"on", false)+
		message("pack/1", `[{"bn":"dev/t","bt":1772350000,"v":1.5},{"t":10,"v":2}]`, false)+
		message("pack/1", `[{"n":"dev/t","t":-5,"v":3}]`, false)+message("pack/1", `[{"n":"dev/t","t":-5,"v":3}]`, true)+
		message("pack/1", `[{"n":"dev/t"`, false)+
		message("alone", "1", false)+message("\xff/b/c", "\xff", false)+"{\"half\n")
	same(t, s.got, `
b1/ppfd 2026-03-01T09:30:00Z 612.50
mains/v 2026-03-01T09:30:00Z 229.8
b1/v 2026-03-01T10:00:00.25Z 7
a-b/c/d 2026-03-01T10:00:00.25Z 12.30
dev/t 2026-03-01T07:26:40Z 1.5
dev/t 2026-03-01T07:26:50Z 2
dev/t 2026-03-01T09:59:55.25Z 3`)
	same(t, s.rejects, `
3 time bad-time
4 payload bad-json
7 payload bad-number
11 payload bad-number
14 t relative-time
15 payload bad-senml
16 topic unknown-topic
17 payload bad-number
18  bad-json`)
}

func block(unit int, kind string, address int, words ...uint16) string {
	return string(messages.Line{At: at, Unit: unit, Kind: kind, Address: address, Words: words}.Encode())
}

// The words of the floats are those of IEEE 754: 0x4419 2000 is 612.5, and
// 0x3DCCCCCD the float32 next to 0.1. The others are counted by hand.
func TestRegisters(t *testing.T) {
	const head = "name: m\ncollect:\n  every: 1m\n  modbus:\n    address: meter.example\n    registers:\n"
	for _, c := range []struct {
		register string
		words    []uint16
		want     string
	}{
		{"type: uint16", []uint16{65535}, "65535"},
		{"type: int16", []uint16{65535}, "-1"},
		{"type: int16, scale: 0.1", []uint16{0xFC18}, "-100.0"},
		{"type: uint32", []uint16{1, 2}, "65538"},
		{"type: uint32, order: low-first", []uint16{1, 2}, "131073"},
		{"type: int32", []uint16{0xFFFF, 0xFFFE}, "-2"},
		{"type: uint32, scale: 0.01", []uint16{0, 12345}, "123.45"},
		{"type: float32", []uint16{0x4419, 0x2000}, "612.5"},
		{"type: float32, order: low-first", []uint16{0x2000, 0x4419}, "612.5"},
		{"type: float32", []uint16{0x3DCC, 0xCCCD}, "0.1"},
		{"type: float32, scale: 1000", []uint16{0x3DCC, 0xCCCD}, "100.0"},
		{"type: float64", []uint16{0x4083, 0x2400, 0, 0}, "612.5"},
		{"type: float64, order: low-first", []uint16{0, 0, 0x2400, 0x4083}, "612.5"},
		{"type: uint64", []uint16{0, 1, 0, 0}, "4294967296"},
		{"type: int64", []uint16{0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF}, "-1"},
		{"type: uint64", []uint16{0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF}, ""},
		{"type: float32", []uint16{0x7FC0, 0}, ""}, // no number, as devices mark a sensor that is off
	} {
		s := read(t, head+"      - {address: 10, "+c.register+", sensor: m, channel: v}\n",
			block(1, "holding", 10, c.words...))
		want := "m/v 2026-03-01T10:00:00.25Z " + c.want
		if c.want == "" {
			same(t, s.rejects, "1 m/v bad-number")
			want = ""
		}
		same(t, s.got, want)
	}
	// A register is found in the block that holds it whole, of its kind; a block
	// that holds none is told.
	s := read(t, head+"      - {address: 11, type: uint32, sensor: m, channel: a}\n      - {address: 11, kind: input, sensor: m, channel: b}\n",
		block(1, "holding", 10, 9, 0, 5)+block(1, "input", 11, 6)+block(1, "holding", 12, 1, 2))
	same(t, s.got, "m/a 2026-03-01T10:00:00.25Z 5\nm/b 2026-03-01T10:00:00.25Z 6")
	same(t, s.rejects, "3  unknown-register")
}

// By the table of MQTT 5.0, section 4.7.1.
func TestTopics(t *testing.T) {
	for _, c := range []struct {
		filter, topic string
		want          string // the groups, or - where it does not fit
	}{
		{"sport/tennis/player1/#", "sport/tennis/player1", ""},
		{"sport/tennis/player1/#", "sport/tennis/player1/ranking", "ranking"},
		{"sport/tennis/player1/#", "sport/tennis/player1/score/w", "score/w"},
		{"sport/#", "sport", ""},
		{"#", "a/b", "a/b"},
		{"sport/tennis/+", "sport/tennis/player1", "player1"},
		{"sport/tennis/+", "sport/tennis/player1/ranking", "-"},
		{"sport/+", "sport", "-"},
		{"sport/+", "sport/", ""},
		{"+/+", "/finance", "|finance"},
		{"/+", "/finance", "finance"},
		{"+", "/finance", "-"},
		{"#", "$SYS/uptime", "-"},
		{"+/monitor/c", "$SYS/monitor/c", "-"},
		{"$SYS/#", "$SYS/a", "a"},
	} {
		groups, ok := (&source.Message{Topic: c.filter}).Groups(c.topic)
		got := "-"
		if ok {
			got = strings.Join(groups[1:], "|")
		}
		if got != c.want {
			t.Errorf("%s of %s: %q, want %q", c.filter, c.topic, got, c.want)
		}
	}
}

func FuzzMessages(f *testing.F) {
	f.Add(message("s/b1/state", `{"at":"2026-03-01 10:30:00","v":1}`, false))
	f.Add(message("pack/1", `[{"bn":"dev/t","bt":1772350000,"v":1.5}]`, true))
	f.Add(block(1, "holding", 10, 1, 2))
	var all []*source.Description
	for _, text := range []string{
		"name: m\ncollect: {mqtt: {broker: \"mqtts://b.example\", topics: \"#\"}}\nmessages: [{topic: \"pack/#\", payload: senml}, {topic: \"s/#\", payload: json, sensor: \"{1}\", channel: c, time: $.at, values: [{path: $.v}]}, {topic: \"#\", sensor: \"{1}\", channel: c}]\n",
		"name: m\ncollect: {every: 1m, modbus: {address: m.example, registers: [{address: 10, type: float32, sensor: a, channel: b}]}}\n",
	} {
		d, err := source.Load([]byte(text), "d")
		if err != nil {
			f.Fatal(err)
		}
		all = append(all, d)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, d := range all {
			s := &sink{}
			counts, err := decode.File(t.Context(), strings.NewReader(text), "x", d, s)
			if err == nil && counts.Rows != int64(len(s.got)+len(s.rejects)) {
				t.Errorf("%d rows, %d readings and %d rejects", counts.Rows, len(s.got), len(s.rejects))
			}
		}
	})
}
