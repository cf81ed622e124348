package main

import (
	"encoding/json"
	"io"
	"log"
	"math"
	"net/http"
	"strconv"
	"time"

	"github.com/simonvetter/modbus"
)

var silent = log.New(io.Discard, "", 0)

var epoch = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// ServeHTTP is the logger: a row a second, ten a page, after a cursor.
func (w *world) ServeHTTP(out http.ResponseWriter, r *http.Request) {
	after, _ := strconv.Atoi(r.URL.Query().Get("after"))
	w.mu.Lock()
	defer w.mu.Unlock()
	w.pulls++
	w.acked = max(w.acked, after)
	w.rows = int(time.Since(w.began) / time.Second)
	enc := json.NewEncoder(out)
	last := min(w.rows, after+10)
	for i := after + 1; i <= last; i++ {
		row := map[string]any{"time": epoch.Add(time.Duration(i) * time.Second), "sensor": "logger", "channel": "v", "value": i}
		if i == after+1 {
			row["cursor"] = last
		}
		_ = enc.Encode(row)
	}
}

// HandleHoldingRegisters gives every register the number of the request.
func (w *world) HandleHoldingRegisters(r *modbus.HoldingRegistersRequest) ([]uint16, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.blocks++
	bits := math.Float32bits(float32(w.blocks))
	out := make([]uint16, r.Quantity)
	for i := range out {
		out[i] = uint16(bits >> 16)
		if (int(r.Addr)+i)%2 == 1 {
			out[i] = uint16(bits)
		}
	}
	return out, nil
}

// The device has nothing else.

func (w *world) HandleInputRegisters(*modbus.InputRegistersRequest) ([]uint16, error) {
	return nil, modbus.ErrIllegalFunction
}

func (w *world) HandleCoils(*modbus.CoilsRequest) ([]bool, error) {
	return nil, modbus.ErrIllegalFunction
}

func (w *world) HandleDiscreteInputs(*modbus.DiscreteInputsRequest) ([]bool, error) {
	return nil, modbus.ErrIllegalFunction
}
