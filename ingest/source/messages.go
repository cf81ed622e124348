package source

import (
	"fmt"
	"strings"
)

// The formats that collecting itself writes: a line a message as it came, and a
// line a block of registers as it was read.
const (
	Messages  Format = "messages"
	Registers Format = "registers"
)

// Plain is whatever needs no description: the plain form as CSV, JSON lines or
// Parquet, or a SenML pack.
const Plain Format = "plain"

// Message says how the messages of some topics read. The first that fits a
// message's topic counts.
type Message struct {
	Topic   string         `yaml:"topic"`
	Payload string         `yaml:"payload"`
	Sensor  string         `yaml:"sensor"`
	Channel string         `yaml:"channel"`
	Time    string         `yaml:"time"`
	Values  []MessageValue `yaml:"values"`
}

// MessageValue is one value of a JSON message.
type MessageValue struct {
	Path    string `yaml:"path"`
	Sensor  string `yaml:"sensor"`
	Channel string `yaml:"channel"`
}

// Groups says whether a topic fits, and what its wildcards stood for, by
// position; the first is the whole topic. The rules are those of MQTT 5.0,
// section 4.7: + is one level, # the rest and the level above it.
func (m *Message) Groups(topic string) ([]string, bool) {
	groups := []string{topic}
	if strings.HasPrefix(topic, "$") && !strings.HasPrefix(m.Topic, "$") {
		return nil, false // the broker's own, which a leading wildcard does not mean
	}
	have, more := topic, true
	for want := range strings.SplitSeq(m.Topic, "/") {
		if want == "#" {
			if more {
				groups = append(groups, have)
			}
			return groups, true
		}
		if !more {
			return nil, false
		}
		var level string
		level, have, more = strings.Cut(have, "/")
		switch {
		case want == "+":
			groups = append(groups, level)
		case want != level:
			return nil, false
		}
	}
	return groups, !more
}

// topicFilter says what is wrong with a topic filter, "" if nothing.
func topicFilter(s string) string {
	if s == "" || strings.ContainsRune(s, 0) || len(s) > 65535 {
		return "is no topic"
	}
	levels := strings.Split(s, "/")
	for i, l := range levels {
		switch {
		case l == "#" && i < len(levels)-1:
			return "has # before its end"
		case l != "#" && l != "+" && strings.ContainsAny(l, "#+"):
			return "has a wildcard beside other letters of a level"
		}
	}
	return ""
}

func wildcards(topic string) int {
	return strings.Count(topic, "+") + strings.Count(topic, "#")
}

// messages checks how messages read.
func (c *checker) messages() {
	d := c.d
	if d.Format != Messages {
		if len(d.Messages) > 0 {
			c.bad("messages", "means nothing for format "+string(d.Format), "take it out, or collect by mqtt")
		}
		return
	}
	if len(d.Messages) == 0 {
		c.bad("messages", "nothing says how a message reads",
			`write a line such as - {topic: "bays/+/+", payload: number, sensor: "{1}", channel: "{2}"}`)
	}
	for i := range d.Messages {
		m, at := &d.Messages[i], fmt.Sprintf("messages[%d]", i)
		if what := topicFilter(m.Topic); what != "" {
			c.bad(at+".topic", fmt.Sprintf("%q %s", m.Topic, what),
				`write one such as "bays/+/ppfd"; + is one level, # at the end the rest`)
		}
		if m.Payload == "" {
			m.Payload = "number"
		}
		if !oneOf(c, at+".payload", m.Payload, "number", "json", "senml") {
			continue
		}
		c.messageNames(m, at)
		if m.Time != "" && m.Payload != "json" {
			c.bad(at+".time", "only JSON messages have a time to point at",
				"take it out; SenML has its own times, plain numbers count from when they came")
		}
	}
}

// messageNames checks what says the series of a message.
func (c *checker) messageNames(m *Message, at string) {
	template := func(path, s string) {
		for k := wildcards(m.Topic) + 1; k < 10; k++ {
			if strings.Contains(s, fmt.Sprintf("{%d}", k)) {
				c.bad(path, fmt.Sprintf("nothing fills {%d}: the topic has %d wildcards", k, wildcards(m.Topic)),
					"{1} is what the first + stands for")
			}
		}
	}
	template(at+".sensor", m.Sensor)
	template(at+".channel", m.Channel)
	switch m.Payload {
	case "senml":
		if m.Sensor != "" || len(m.Values) > 0 {
			c.bad(at, "SenML names its sensors itself", "take sensor and values out")
		}
		return
	case "number":
		if len(m.Values) > 0 {
			c.bad(at+".values", "a plain number holds one value", "take it out, or write payload: json")
		}
		if m.Sensor == "" || m.Channel == "" {
			c.bad(at, "no sensor or no channel", `write both, such as sensor: "{1}", channel: ppfd`)
		}
		return
	}
	if len(m.Values) == 0 {
		c.bad(at+".values", "nothing says where the values stand", "write a line such as - {path: $.ppfd, channel: ppfd}")
	}
	c.path(at+".time", m.Time)
	for i := range m.Values {
		v, at := &m.Values[i], fmt.Sprintf("%s.values[%d]", at, i)
		template(at+".sensor", v.Sensor)
		template(at+".channel", v.Channel)
		if v.Path == "" {
			c.bad(at+".path", "no path", "write where the value stands, such as $.ppfd")
		}
		c.path(at+".path", v.Path)
		if v.Sensor == "" {
			v.Sensor = m.Sensor
		}
		if v.Channel == "" {
			v.Channel = m.Channel
		}
		if v.Sensor == "" || v.Channel == "" {
			c.bad(at, "no sensor or no channel", `write them here or for the whole message, such as sensor: "{1}"`)
		}
	}
}
