// Package modbus reads a device's registers over Modbus TCP.
//
//  1. Registers that lie side by side are read in one request, up to 125 (Modbus
//     Application Protocol 1.1b3, sections 6.3 and 6.4).
//  2. Where the device refuses a request of several, each value is asked for alone,
//     so that one wrong address costs no other value.
//  3. A block is kept as it came, with the time at which it came; package
//     decode/messages makes numbers of it.
//
// A register does not remember: a poll that is missed is a gap.
package modbus

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/simonvetter/modbus"

	"wane/ingest/collect"
	"wane/ingest/decode/messages"
	"wane/ingest/source"
)

// mostWords is the most registers of one request.
const mostWords = 125

// Source is a device. Make it with New.
type Source struct {
	set    collect.Setting
	spec   *source.Modbus
	blocks []block
}

var _ collect.Poller = (*Source)(nil)

// block is registers that are read by one request.
type block struct {
	kind    string
	address int
	words   int
	parts   []block // its values, each alone
}

// New makes the source that its description's collect.modbus describes.
func New(set collect.Setting) (*Source, error) {
	spec := set.Description.Collect.Modbus
	return &Source{set: set, spec: spec, blocks: blocksOf(spec.Registers)}, nil
}

// blocksOf gathers registers that lie side by side.
func blocksOf(registers []source.Register) []block {
	sorted := slices.Clone(registers)
	slices.SortStableFunc(sorted, func(a, b source.Register) int {
		if a.Kind != b.Kind {
			return len(a.Kind) - len(b.Kind)
		}
		return a.Address - b.Address
	})
	var out []block
	for i := range sorted {
		r := &sorted[i]
		one := block{kind: r.Kind, address: r.Address, words: r.Words()}
		if n := len(out); n > 0 {
			last := &out[n-1]
			end := max(last.address+last.words, one.address+one.words)
			if last.kind == one.kind && one.address <= last.address+last.words && end-last.address <= mostWords {
				last.words = end - last.address
				last.parts = append(last.parts, one)
				continue
			}
		}
		whole := one
		whole.parts = []block{one}
		out = append(out, whole)
	}
	return out
}

// Poll reads every register once.
func (s *Source) Poll(ctx context.Context, box collect.Box) error {
	within := s.set.Description.Collect.Timeout.Std()
	if end, ok := ctx.Deadline(); ok {
		within = time.Until(end)
	}
	c, err := modbus.NewClient(&modbus.ClientConfiguration{URL: "tcp://" + s.spec.Address, Timeout: within,
		Logger: silent})
	if err != nil {
		return fmt.Errorf("the device's address: %w", err)
	}
	if err := c.Open(); err != nil {
		return fmt.Errorf("connect: %w", err)
	}
	defer c.Close()
	stop := context.AfterFunc(ctx, func() { c.Close() })
	defer stop()
	if err := c.SetUnitId(uint8(s.spec.Unit)); err != nil {
		return err
	}
	var lines [][]byte
	var wrong []error
	for _, b := range s.blocks {
		l, err := s.read(c, b)
		lines = append(lines, l...)
		if wrong = append(wrong, err); err != nil && !refused(err) {
			break // the connection is gone
		}
	}
	if len(lines) > 0 {
		if err := box.Append(ctx, lines...); err != nil {
			return err
		}
	}
	if err := errors.Join(wrong...); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return err
	}
	return nil
}

// read reads a block, or its values one by one where the device refuses it.
func (s *Source) read(c *modbus.ModbusClient, b block) (lines [][]byte, err error) {
	kind := modbus.HOLDING_REGISTER
	if b.kind == "input" {
		kind = modbus.INPUT_REGISTER
	}
	words, err := c.ReadRegisters(uint16(b.address), uint16(b.words), kind)
	if err == nil {
		l := messages.Line{At: s.set.Now().UTC(), Unit: s.spec.Unit, Kind: b.kind, Address: b.address, Words: words}
		return [][]byte{l.Encode()}, nil
	}
	if !refused(err) || len(b.parts) < 2 {
		return nil, fmt.Errorf("%s register %d: %w", b.kind, b.address, err)
	}
	var wrong []error
	for _, part := range b.parts {
		l, err := s.read(c, part)
		lines = append(lines, l...)
		if wrong = append(wrong, err); err != nil && !refused(err) {
			break
		}
	}
	return lines, errors.Join(wrong...)
}

// refused says whether the device itself answered that it will not.
func refused(err error) bool {
	return errors.Is(err, modbus.ErrIllegalDataAddress) || errors.Is(err, modbus.ErrIllegalDataValue) ||
		errors.Is(err, modbus.ErrIllegalFunction) || errors.Is(err, modbus.ErrServerDeviceFailure)
}
