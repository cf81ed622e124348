package main

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"sync"
	"syscall"
	"time"

	"github.com/eclipse/paho.golang/autopaho"
	"github.com/eclipse/paho.golang/paho"
	"github.com/simonvetter/modbus"
)

const (
	series    = 200
	perSecond = 10
	registers = 50
	aPull     = 3 // seconds between pulls: 20 a minute
)

// world is what the site collects from.
type world struct {
	mosquitto *process
	broker    string
	proxy     *proxy
	device    *modbus.ModbusServer
	deviceAt  string
	logger    *http.Server
	loggerAt  string

	began  time.Time
	mu     sync.Mutex
	sent   int // messages, numbered from 1
	rows   int // that the logger has
	acked  int // rows that a request said it had: its cursor
	pulls  int
	blocks int // register requests
}

func startWorld(dir string) (*world, error) {
	w := &world{began: time.Now()}
	var err error
	if w.broker, err = freePort(); err != nil {
		return nil, err
	}
	if w.deviceAt, err = freePort(); err != nil {
		return nil, err
	}
	if w.proxy, err = startProxy(w.broker); err != nil {
		return nil, err
	}
	store := filepath.Join(dir, "broker")
	if err := os.Mkdir(store, 0o700); err != nil {
		return nil, err
	}
	_, port, _ := net.SplitHostPort(w.broker)
	// Everything on disk at once, so that a killed broker forgets as little as may be.
	conf := fmt.Sprintf("listener %s 127.0.0.1\nallow_anonymous true\npersistence true\npersistence_location %s/\nautosave_on_changes true\nautosave_interval 1\nmax_queued_messages 0\nuser root\n", port, store)
	if err := os.WriteFile(filepath.Join(dir, "broker.conf"), []byte(conf), 0o600); err != nil {
		return nil, err
	}
	w.mosquitto = &process{log: filepath.Join(dir, "broker.log"), cmd: func() *exec.Cmd {
		return exec.Command("/usr/sbin/mosquitto", "-c", filepath.Join(dir, "broker.conf"))
	}}
	if err := w.mosquitto.start(); err != nil {
		return nil, err
	}
	if w.device, err = modbus.NewServer(&modbus.ServerConfiguration{URL: "tcp://" + w.deviceAt, Timeout: time.Minute, MaxClients: 10, Logger: silent}, w); err != nil {
		return nil, err
	}
	if err := w.device.Start(); err != nil {
		return nil, err
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	w.loggerAt = ln.Addr().String()
	w.logger = &http.Server{Handler: w}
	go func() { _ = w.logger.Serve(ln) }()
	return w, nil
}

func (w *world) end() {
	w.mosquitto.kill(syscall.SIGTERM)
	_ = w.device.Stop()
	_ = w.logger.Close()
	w.proxy.ln.Close()
}

func freePort() (string, error) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", err
	}
	defer ln.Close()
	return ln.Addr().String(), nil
}

// site writes the site folder.
func (w *world) site(dir string) (string, error) {
	site := filepath.Join(dir, "site")
	meters := "name: meter\ncollect:\n  every: 1s\n  timeout: 2s\n  retries: 0\n  modbus:\n    address: " + w.deviceAt + "\n    registers:\n"
	for i := range registers / 2 { // a float32 takes two
		meters += fmt.Sprintf("      - {address: %d, type: float32, sensor: meter, channel: r%d}\n", 2*i, i)
	}
	for name, text := range map[string]string{
		"site.yaml":             "name: Invented site of the campaign\nzone: UTC\nrooms:\n  veg: {on: \"06:00\", hours: 12}\n",
		"register/fixtures.csv": "fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install\n",
		"register/sensors.csv":  "sensor,channel,quantity,unit,watches,factor,from,to\n",
		"register/logbook.csv":  "at,what,scope,id,value,note\n",
		"sources/meter.yaml":    meters,
		"sources/logger.yaml": fmt.Sprintf("name: logger\nformat: jsonl\ncollect:\n  every: %ds\n  timeout: 2s\n  http:\n    url: http://%s/rows\n    cursor: {param: after, path: $.cursor}\n",
			aPull, w.loggerAt),
		"sources/bays.yaml": fmt.Sprintf("name: bays\ntime: {format: epoch-ms}\ncollect:\n  timeout: 5s\n  mqtt:\n    broker: mqtt://%s\n    topics: [\"json/+/v\", \"plain/+/v\"]\n"+
			"messages:\n  - {topic: \"plain/+/v\", payload: number, sensor: \"p{1}\", channel: v}\n  - {topic: \"json/+/v\", payload: json, sensor: \"j{1}\", channel: v, time: $.t, values: [{path: $.v}]}\n", w.proxy.addr),
	} {
		p := filepath.Join(site, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			return "", err
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			return "", err
		}
	}
	return site, nil
}

// met waits until wane has subscribed.
func (w *world) met(ctx context.Context) error {
	for range 300 {
		if w.proxy.subscribed.Load() > 0 {
			return nil
		}
		if !sleep(ctx, 100*time.Millisecond) {
			return ctx.Err()
		}
	}
	return fmt.Errorf("wane did not subscribe within half a minute")
}

// publish sends message after message, each again until the broker has it.
func (w *world) publish(ctx context.Context) {
	c := autopaho.ClientConfig{
		ServerUrls: []*url.URL{{Scheme: "mqtt", Host: w.broker}}, KeepAlive: 20, SessionExpiryInterval: 600,
		ReconnectBackoff: func(int) time.Duration { return 50 * time.Millisecond },
	}
	c.ClientID = "sender"
	m, err := autopaho.NewConnection(ctx, c)
	if err != nil {
		fmt.Fprintln(os.Stderr, "collect:", err)
		return
	}
	tick := time.NewTicker(time.Second / perSecond)
	defer tick.Stop()
	for n := 1; ; n++ {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		s := n % series
		p := &paho.Publish{QoS: 1, Topic: fmt.Sprintf("plain/%d/v", s), Payload: []byte(strconv.Itoa(n))}
		if s%2 == 0 {
			p.Topic, p.Payload = fmt.Sprintf("json/%d/v", s), fmt.Appendf(nil, `{"t":%d,"v":%d}`, time.Now().UnixMilli(), n)
		}
		w.mu.Lock()
		w.sent = n
		w.mu.Unlock()
		for ctx.Err() == nil {
			if err := m.AwaitConnection(ctx); err != nil {
				return
			}
			within, cancel := context.WithTimeout(ctx, 2*time.Second)
			_, err := m.Publish(within, p)
			cancel()
			if err == nil {
				break
			}
		}
	}
}

// settle waits until nothing more is delivered.
func (w *world) settle(ctx context.Context) {
	for before := -1; ; {
		now := w.proxy.count()
		if now == before || !sleep(ctx, 8*time.Second) {
			return
		}
		before = now
	}
}
