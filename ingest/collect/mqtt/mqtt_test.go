package mqtt_test

import (
	"errors"
	"testing"
	"time"

	"github.com/mochi-mqtt/server/v2/packets"

	"wane/ingest/collect"
	"wane/ingest/collect/collecttest"
	"wane/ingest/source"
)

type mochiPacket = packets.Packet

var errRestart = errors.New("restarted")

func TestConformance(t *testing.T) {
	for _, form := range []string{"json", "senml"} {
		t.Run(form, func(t *testing.T) { collecttest.Run(t, factory(form, startInProcess)) })
	}
}

// listenOnce collects once and gives how many readings came, and the lines.
func listenOnce(t *testing.T, dir string, d *source.Description, make collect.Make) collect.Status {
	t.Helper()
	r, err := collect.Open(collect.Options{Dir: dir, Zone: time.UTC, Make: make, Now: time.Now,
		Quiet: 300 * time.Millisecond}, d)
	if err != nil {
		t.Fatal(err)
	}
	before := r.Status()
	_ = r.Once(t.Context())
	s := r.Status()
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	s.Readings -= before.Readings
	return s
}

func numbers(t *testing.T, addr string) *source.Description {
	t.Helper()
	d, err := source.Load([]byte("name: n\ncollect:\n  timeout: 3s\n  mqtt:\n    broker: mqtt://"+addr+
		"\n    topics: [\"+/v\", \"+/j\"]\n    client: wane-n\n    user: wane\n    password: env:"+collecttest.SecretEnv+`
time: {format: epoch-s}
messages:
  - {topic: "+/v", payload: number, sensor: "{1}", channel: v}
  - {topic: "+/j", payload: json, sensor: "{1}", channel: j, time: $.t, values: [{path: $.v}]}
`), "n")
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// A plain number counts from when it came. Sent again because its acknowledgement
// was not heard, it came once; the same number sent anew came twice.
func testNumbers(t *testing.T, start func(t *testing.T) broker) {
	t.Setenv(collecttest.SecretEnv, collecttest.Secret)
	b, dir := start(t), t.TempDir()
	session(t, b.addr(), "wane-n", "+/v", "+/j")
	publish(t, b.addr(), "a/v", false, "1", "1", "2")
	first := listenOnce(t, dir, numbers(t, b.addr()), collecttest.KilledAfterKeeping(make_))
	if first.Readings == 0 {
		t.Fatal("nothing was kept")
	}
	second := listenOnce(t, dir, numbers(t, b.addr()), make_)
	if got := first.Readings + second.Readings; got != 3 {
		t.Errorf("3 numbers are %d + %d readings", first.Readings, second.Readings)
	}
	publish(t, b.addr(), "a/v", false, "2")
	if got := listenOnce(t, dir, numbers(t, b.addr()), make_).Readings; got != 1 {
		t.Errorf("one more number is %d readings", got)
	}
}

// What was retained is a reading only where it says when it was measured, however
// often it is sent.
func testRetained(t *testing.T, start func(t *testing.T) broker) {
	t.Setenv(collecttest.SecretEnv, collecttest.Secret)
	b, dir := start(t), t.TempDir()
	publish(t, b.addr(), "a/v", true, "7")
	publish(t, b.addr(), "a/j", true, `{"t":1772350000,"v":9}`)
	if got := listenOnce(t, dir, numbers(t, b.addr()), make_).Readings; got != 1 {
		t.Errorf("of one retained number and one retained message with a time %d are readings", got)
	}
	if got := listenOnce(t, dir, numbers(t, b.addr()), make_).Readings; got != 0 {
		t.Errorf("connected again, %d more readings", got)
	}
}

func TestNumbers(t *testing.T)  { testNumbers(t, startInProcess) }
func TestRetained(t *testing.T) { testRetained(t, startInProcess) }
