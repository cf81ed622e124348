//go:build counterparts

package mqtt_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"wane/ingest/collect"
	"wane/ingest/collect/collecttest"
	"wane/ingest/source"
)

// mosquitto is Debian's, with a session store on disk.
type mosquitto struct {
	at, dir string
	p       *collecttest.Process
}

func startMosquitto(t *testing.T) broker { return mosquittoWith(t, "") }

func mosquittoWith(t *testing.T, more string) *mosquitto {
	m := &mosquitto{at: collecttest.FreePort(t), dir: t.TempDir()}
	if err := os.Chmod(m.dir, 0o777); err != nil {
		t.Fatal(err)
	}
	_, port, _ := strings.Cut(m.at, ":")
	conf := fmt.Sprintf("listener %s 127.0.0.1\nallow_anonymous false\npassword_file %s/users\npersistence true\npersistence_location %s/\nuser root\n%s", port, m.dir, m.dir, more)
	if err := os.WriteFile(filepath.Join(m.dir, "conf"), []byte(conf), 0o644); err != nil {
		t.Fatal(err)
	}
	m.users(t, collecttest.Secret)
	m.p = collecttest.StartProcess(t, m.at, func() *exec.Cmd {
		return exec.Command("/usr/sbin/mosquitto", "-c",
			filepath.Join(m.dir, "conf"))
	})
	return m
}

func (m *mosquitto) users(t *testing.T, wane string) {
	t.Helper()
	path := filepath.Join(m.dir, "users")
	if err := os.WriteFile(path, []byte("wane:"+wane+"\nsender:sender\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("mosquitto_passwd", "-U", path).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
}

func (m *mosquitto) addr() string { return m.at }

func (m *mosquitto) restart(*testing.T) {
	m.p.Stop()
	m.p.Start()
}

func (m *mosquitto) password(t *testing.T, wane string) {
	m.users(t, wane)
	m.p.Signal(syscall.SIGHUP)
}

func TestRealConformance(t *testing.T) { collecttest.Run(t, factory("json", startMosquitto)) }
func TestRealNumbers(t *testing.T)     { testNumbers(t, startMosquitto) }
func TestRealRetained(t *testing.T)    { testRetained(t, startMosquitto) }

// TLS: a certificate that is not named is refused, one that is named is taken.
func TestRealTLS(t *testing.T) {
	t.Setenv(collecttest.SecretEnv, collecttest.Secret)
	dir, tls := t.TempDir(), collecttest.FreePort(t)
	cert, key := collecttest.Certificate(t, dir)
	_, port, _ := strings.Cut(tls, ":")
	mosquittoWith(t, fmt.Sprintf("listener %s 127.0.0.1\ncertfile %s\nkeyfile %s\n", port, cert, key))
	for more, want := range map[string]string{"": "certificate", "    tls: {ca: cert.pem}\n": "",
		"    tls: {certificates: unchecked}\n": ""} {
		d, err := source.Load([]byte("name: s\ncollect:\n  timeout: 3s\n  mqtt:\n    broker: mqtts://"+tls+
			"\n    topics: \"#\"\n    user: wane\n    password: env:"+collecttest.SecretEnv+"\n"+more+
			"messages: [{topic: \"#\", payload: number, sensor: \"{1}\", channel: v}]\n"), "s")
		if err != nil {
			t.Fatal(err)
		}
		r, err := collect.Open(collect.Options{Dir: dir, Zone: time.UTC, Make: make_, Now: time.Now,
			Quiet: 200 * time.Millisecond}, d)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Once(t.Context()); (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", more, err)
		}
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
	}
}
