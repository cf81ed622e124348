package modbus

import (
	"fmt"
	"math"
	"net"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/simonvetter/modbus"

	"wane/ingest/collect"
	"wane/ingest/collect/collecttest"
	"wane/ingest/source"
)

func make_(s collect.Setting) (any, error) { return New(s) }

// device is what the tests need of one: a float32 in holding registers 100 and
// 101, whatever else it has.
type device interface {
	addr() string
	set(t *testing.T, v float32)
	restart(t *testing.T)
}

type counterpart struct {
	d     device
	proxy *collecttest.Proxy
}

func (c *counterpart) Description(string) string {
	return fmt.Sprintf("name: x\ncollect:\n  every: 1m\n  timeout: 1s\n  retries: 0\n  modbus:\n    address: %s\n    registers:\n      - {address: 100, type: float32, sensor: bay-1, channel: ppfd}\n", c.proxy.Addr)
}

func (c *counterpart) Offer(t *testing.T, r ...collecttest.Reading) {
	c.d.set(t, float32(r[len(r)-1].Value))
}
func (c *counterpart) Again(*testing.T)                        {} // a register shows its value however often it is read
func (c *counterpart) Break(_ *testing.T, f collecttest.Fault) { c.proxy.Break(f, 5) }
func (c *counterpart) Mend(*testing.T)                         { c.proxy.Mend() }
func (c *counterpart) Restart(t *testing.T)                    { c.d.restart(t) }

func factory(start func(t *testing.T) device) collecttest.Factory {
	return collecttest.Factory{
		Start: func(t *testing.T) collecttest.Counterpart {
			c := &counterpart{d: start(t)}
			c.proxy = collecttest.StartProxy(t, c.d.addr())
			return c
		},
		Make: make_, Now: true,
		Faults: []collecttest.Fault{collecttest.Slow, collecttest.Cut, collecttest.Down},
	}
}

// inProcess is a device as a Go library.
type inProcess struct {
	at  string
	srv *modbus.ModbusServer

	mu     sync.Mutex
	words  map[uint16]uint16 // holding
	inputs map[uint16]uint16
	asked  []string
}

func startInProcess(t *testing.T) device { return startDevice(t) }

func startDevice(t *testing.T) *inProcess {
	d := &inProcess{at: collecttest.FreePort(t), words: map[uint16]uint16{100: 0, 101: 0}, inputs: map[uint16]uint16{}}
	d.listen(t)
	t.Cleanup(func() { _ = d.srv.Stop() })
	return d
}

func (d *inProcess) listen(t *testing.T) {
	t.Helper()
	var err error
	if d.srv, err = modbus.NewServer(&modbus.ServerConfiguration{URL: "tcp://" + d.at, Timeout: 5 * time.Second,
		MaxClients: 10, Logger: silent}, d); err != nil {
		t.Fatal(err)
	}
	for until := time.Now().Add(5 * time.Second); ; {
		if err = d.srv.Start(); err == nil {
			break
		}
		if time.Now().After(until) {
			t.Fatal(err)
		}
	}
}

func (d *inProcess) addr() string { return d.at }

func (d *inProcess) restart(t *testing.T) {
	if err := d.srv.Stop(); err != nil {
		t.Fatal(err)
	}
	d.listen(t)
}

func (d *inProcess) set(_ *testing.T, v float32) {
	d.mu.Lock()
	defer d.mu.Unlock()
	bits := math.Float32bits(v)
	d.words[100], d.words[101] = uint16(bits>>16), uint16(bits)
}

func (d *inProcess) HandleCoils(*modbus.CoilsRequest) ([]bool, error) {
	return nil, modbus.ErrIllegalFunction
}

func (d *inProcess) HandleDiscreteInputs(*modbus.DiscreteInputsRequest) ([]bool, error) {
	return nil, modbus.ErrIllegalFunction
}

func (d *inProcess) HandleHoldingRegisters(r *modbus.HoldingRegistersRequest) ([]uint16, error) {
	return d.read("holding", d.words, r.UnitId, r.Addr, r.Quantity)
}

func (d *inProcess) HandleInputRegisters(r *modbus.InputRegistersRequest) ([]uint16, error) {
	return d.read("input", d.inputs, r.UnitId, r.Addr, r.Quantity)
}

func (d *inProcess) read(kind string, from map[uint16]uint16, unit uint8, addr, n uint16) ([]uint16, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.asked = append(d.asked, fmt.Sprintf("%s %d@%d+%d", kind, unit, addr, n))
	var out []uint16
	for a := addr; a < addr+n; a++ {
		w, ok := from[a]
		if !ok {
			return nil, modbus.ErrIllegalDataAddress
		}
		out = append(out, w)
	}
	return out, nil
}

func TestConformance(t *testing.T) { collecttest.Run(t, factory(startInProcess)) }

// Registers side by side are one request; one that the device does not have costs
// only itself, and is named.
func TestBlocks(t *testing.T) {
	d := startDevice(t)
	d.set(t, 612.5)
	d.words[102], d.words[104], d.words[105] = 2304, 0, 7
	d.inputs[102] = 0xFFFE
	text := "name: m\ncollect:\n  every: 1m\n  retries: 0\n  modbus:\n    address: " + d.at + `
    unit: 3
    registers:
      - {address: 100, type: float32, sensor: m, channel: ppfd}
      - {address: 102, scale: 0.1, sensor: m, channel: volts}
      - {address: 103, sensor: m, channel: nothing}
      - {address: 104, type: uint32, sensor: m, channel: hours}
      - {address: 102, kind: input, type: int16, sensor: m, channel: ambient}
`
	spec, err := source.Load([]byte(text), "m")
	if err != nil {
		t.Fatal(err)
	}
	got, err := collect.Try(t.Context(), collect.Options{Dir: t.TempDir(), Zone: time.UTC, Make: make_, Now: time.Now},
		spec)
	if err == nil || err.Error() != "holding register 103: illegal data address" {
		t.Error(err)
	}
	values := map[string]float64{}
	for _, s := range got.Series {
		values[s.Series.Channel] = s.Value.Float()
	}
	if want := map[string]float64{"ppfd": 612.5, "volts": 230.4, "hours": 7, "ambient": -2}; !reflect.DeepEqual(values,
		want) {
		t.Errorf("%v", values)
	}
	want := "input 3@102+1 holding 3@100+6 holding 3@100+2 holding 3@102+1 holding 3@103+1 holding 3@104+2"
	if asked := strings.Join(d.asked, " "); asked != want {
		t.Errorf("asked %s", asked)
	}
}

func TestBlocksAreBounded(t *testing.T) {
	var all []source.Register
	for a := 0; a < 300; a += 2 {
		all = append(all, source.Register{Address: a, Kind: "holding", Type: "uint32"})
	}
	total := 0
	for _, b := range blocksOf(all) {
		if b.words > 125 || len(b.parts)*2 != b.words {
			t.Errorf("%+v", b)
		}
		total += len(b.parts)
	}
	if total != 150 {
		t.Error(total)
	}
}

// A device that says nothing is given up when the time is over.
func TestSilentDevice(t *testing.T) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	spec, err := source.Load([]byte("name: m\ncollect:\n  every: 1m\n  retries: 0\n  timeout: 200ms\n  modbus:\n    address: "+ln.Addr().String()+"\n    registers: [{sensor: a, channel: b}]\n"), "m")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := collect.Try(t.Context(), collect.Options{Dir: t.TempDir(), Zone: time.UTC, Make: make_, Now: time.Now},
		spec); err == nil {
		t.Error(err)
	}
}
