//go:build counterparts

package modbus

import (
	"net"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/simonvetter/modbus"

	"wane/ingest/collect/collecttest"
)

// libmodbus is a device written with Debian's libmodbus.
type libmodbus struct {
	at   string
	last float32
	p    *collecttest.Process
}

func startLibmodbus(t *testing.T) device {
	d := &libmodbus{at: collecttest.FreePort(t)}
	program := filepath.Join(t.TempDir(), "device")
	if out, err := exec.Command("gcc", "-O1", "-Wall", "-Werror", "-o", program, "testdata/device.c",
		"-lmodbus").CombinedOutput(); err != nil {
		t.Fatalf("%v; .ci/run says which Debian packages the counterparts need\n%s", err, out)
	}
	host, port, err := net.SplitHostPort(d.at)
	if err != nil {
		t.Fatal(err)
	}
	d.p = collecttest.StartProcess(t, d.at, func() *exec.Cmd { return exec.Command(program, host, port) })
	return d
}

func (d *libmodbus) addr() string { return d.at }

func (d *libmodbus) set(t *testing.T, v float32) {
	t.Helper()
	d.last = v
	c, err := modbus.NewClient(&modbus.ClientConfiguration{URL: "tcp://" + d.at, Timeout: 5 * time.Second, Logger: silent})
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Open(); err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if err := c.WriteFloat32(100, v); err != nil {
		t.Fatal(err)
	}
}

// restart gives it what it held: a meter keeps its counters.
func (d *libmodbus) restart(t *testing.T) {
	d.p.Stop()
	d.p.Start()
	d.set(t, d.last)
}

func TestRealLibmodbus(t *testing.T) { collecttest.Run(t, factory(startLibmodbus)) }
