// Package live invents a site that is measured now: a broker to which bay A's
// sensors publish, a power meter with registers, and a logger that answers over
// HTTP, all on 127.0.0.1 and for as long as they are asked for. Everything they
// say is invented.
//
//  1. Start starts the three.
//  2. Write writes a site folder whose sources point at them.
//  3. Measure has them measure, second by second, until its context ends.
//  4. Close ends them.
//
// Half-way the logger is away for a while, to show a gap.
package live

import (
	"errors"
	"fmt"
	"io"
	"log"
	"log/slog"
	"math"
	"net"
	"net/http"
	"sync"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/hooks/auth"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/simonvetter/modbus"
)

// The invented fixtures.
const (
	bayA = 4 // watched by the broker's sensors
	bayB = 2 // watched by the logger
)

// Loggers are the invented instruments.
type Loggers struct {
	broker *mochi.Server
	device *modbus.ModbusServer
	web    *http.Server
	meter  *meter
	logger *logger

	brokerAt, deviceAt, webAt string
	ended                     chan error
}

// Start starts them on free ports of 127.0.0.1.
func Start() (l *Loggers, err error) {
	l = &Loggers{meter: &meter{}, logger: &logger{}, ended: make(chan error, 1)}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("start the invented instruments: %w", err), l.Close())
		}
	}()
	if err := l.startBroker(); err != nil {
		return l, err
	}
	if err := l.startDevice(); err != nil {
		return l, err
	}
	web, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return l, err
	}
	l.webAt = web.Addr().String()
	l.web = &http.Server{Handler: l.logger, ReadHeaderTimeout: 10 * time.Second}
	go func() { l.ended <- l.web.Serve(web) }()
	return l, nil
}

func (l *Loggers) startBroker() error {
	b := mochi.New(&mochi.Options{InlineClient: true, Logger: slog.New(slog.DiscardHandler)})
	if err := b.AddHook(new(auth.AllowHook), nil); err != nil { // of this machine alone
		return err
	}
	tcp := listeners.NewTCP(listeners.Config{ID: "live", Address: "127.0.0.1:0"})
	if err := b.AddListener(tcp); err != nil {
		return err
	}
	l.broker, l.brokerAt = b, tcp.Address()
	return b.Serve()
}

// tries is how many free ports are tried for the meter: its library takes no
// listener, so that another program may take a port in between.
const tries = 5

func (l *Loggers) startDevice() error {
	var last error
	for range tries {
		free, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			return err
		}
		at := free.Addr().String()
		if err := free.Close(); err != nil {
			return err
		}
		d, err := modbus.NewServer(&modbus.ServerConfiguration{
			URL: "tcp://" + at, Timeout: time.Minute, MaxClients: 4, Logger: log.New(io.Discard, "", 0),
		}, l.meter)
		if err != nil {
			return err
		}
		if last = d.Start(); last == nil {
			l.device, l.deviceAt = d, at
			return nil
		}
	}
	return last
}

// Close ends what was started.
func (l *Loggers) Close() error {
	var errs []error
	if l.web != nil {
		errs = append(errs, l.web.Close())
		if err := <-l.ended; !errors.Is(err, http.ErrServerClosed) {
			errs = append(errs, err)
		}
	}
	if l.device != nil {
		errs = append(errs, l.device.Stop())
	}
	if l.broker != nil {
		errs = append(errs, l.broker.Close())
	}
	return errors.Join(errs...)
}

// light is the PPFD over fixture i at a time, umol/m2/s: a lamp's own output, the
// mains' slow swing and the reading's noise.
func light(i int, at time.Time) float64 {
	s := float64(at.Unix())
	return (760 - 15*float64(i)) * (1 + 0.004*math.Sin(s/37) + 0.002*math.Sin(s*float64(7+i)))
}

// volts is the supply at a time.
func volts(at time.Time) float64 { return 231 + 1.5*math.Sin(float64(at.Unix())/37) }

// meter is a power meter: input registers 0 the voltage in tenths of a volt, 1 and
// 2 the hours that the lamps burned, in thousandths, high word first.
type meter struct {
	mu    sync.Mutex
	words [3]uint16
}

func (m *meter) measure(at time.Time, burned time.Duration) {
	h := uint32(5_000_000 + burned.Seconds()/3.6)
	m.mu.Lock()
	defer m.mu.Unlock()
	m.words = [3]uint16{uint16(math.Round(volts(at) * 10)), uint16(h >> 16), uint16(h)}
}

// HandleInputRegisters answers a reading of the registers.
func (m *meter) HandleInputRegisters(r *modbus.InputRegistersRequest) ([]uint16, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if int(r.Addr)+int(r.Quantity) > len(m.words) {
		return nil, modbus.ErrIllegalDataAddress
	}
	return append([]uint16(nil), m.words[r.Addr:r.Addr+r.Quantity]...), nil
}

// HandleHoldingRegisters says that there are none.
func (*meter) HandleHoldingRegisters(*modbus.HoldingRegistersRequest) ([]uint16, error) {
	return nil, modbus.ErrIllegalFunction
}

// HandleCoils says that there are none.
func (*meter) HandleCoils(*modbus.CoilsRequest) ([]bool, error) {
	return nil, modbus.ErrIllegalFunction
}

// HandleDiscreteInputs says that there are none.
func (*meter) HandleDiscreteInputs(*modbus.DiscreteInputsRequest) ([]bool, error) {
	return nil, modbus.ErrIllegalFunction
}

// logger answers with the rows of the last minute, as CSV: most of them were asked
// for before, and add nothing.
type logger struct {
	mu   sync.Mutex
	rows []string
	away bool
}

// kept is how many rows it keeps.
const kept = 60 * bayB

func (g *logger) measure(at time.Time, away bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.away = away
	for i := range bayB {
		g.rows = append(g.rows, fmt.Sprintf("%s,bay-b,%d,%.1f\n", at.UTC().Format(time.RFC3339), i+1, light(bayA+i, at)))
	}
	g.rows = g.rows[max(0, len(g.rows)-kept):]
}

func (g *logger) ServeHTTP(w http.ResponseWriter, _ *http.Request) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.away {
		http.Error(w, "the logger is away", http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "text/csv")
	io.WriteString(w, "time,sensor,channel,value\n")
	for _, r := range g.rows {
		io.WriteString(w, r)
	}
}
