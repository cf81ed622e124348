package main

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/gob"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"github.com/apache/beam/sdks/v2/go/pkg/beam"
	"github.com/apache/beam/sdks/v2/go/pkg/beam/register"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
)

// settings are what every worker must know.
type settings struct {
	Scratch, Wane string
	Most          int
	Only          bool
}

// Work is an order of a site.
type Work struct {
	Site  string
	Order derive.Order
}

// Chunk is a value on its way; an empty one is a zero value.
type Chunk struct{ Gob []byte }

func pack(v any) (Chunk, error) {
	var b bytes.Buffer
	err := gob.NewEncoder(&b).Encode(v)
	return Chunk{b.Bytes()}, err
}

func (c Chunk) into(v any) error {
	if len(c.Gob) == 0 {
		return nil
	}
	return gob.NewDecoder(bytes.NewReader(c.Gob)).Decode(v)
}

// Planned says that a site takes part, and how many orders it has; Trouble is why
// there are none.
type Planned struct {
	Orders  int
	Trouble string
}

// Ended is how a site's night ended.
type Ended struct {
	Site          string
	Orders, Parts int
	Exit          int
	Said          string // on stderr, where something is to be said
	Rolled        []derive.Part
}

func init() {
	register.DoFn4x1[context.Context, string, func(Work), func(string, Planned), error](&planFn{})
	register.DoFn3x1[context.Context, Work, func(string, Chunk), error](&rollFn{})
	register.DoFn4x1[context.Context, string, func(*Chunk) bool, func(string, derive.Part), error](&writeFn{})
	register.DoFn4x1[context.Context, string, func(*Planned) bool, func(*derive.Part) bool, error](&nightFn{})
	register.Emitter1[Work]()
	register.Emitter2[string, Planned]()
	register.Emitter2[string, Chunk]()
	register.Emitter2[string, derive.Part]()
	register.Iter1[Chunk]()
	register.Iter1[Planned]()
	register.Iter1[derive.Part]()
}

func pipeline(sites []string, set settings) *beam.Pipeline {
	p, s := beam.NewPipelineWithRoot()
	all := beam.Reshuffle(s.Scope("Sites"), beam.CreateList(s, sites))
	orders, planned := beam.ParDo2(s.Scope("Plan"), &planFn{set}, all)
	rows := beam.ParDo(s.Scope("Roll"), &rollFn{}, beam.Reshuffle(s.Scope("Spread"), orders))
	parts := beam.ParDo(s.Scope("Write"), &writeFn{set}, beam.GroupByKey(s, rows))
	beam.ParDo0(s.Scope("Night"), &nightFn{set}, beam.CoGroupByKey(s, planned, parts))
	return p
}

type planFn struct{ Set settings }

// ProcessElement makes the orders of a site. What keeps it from that is the site's
// affair, which its night says; the others go on.
func (f *planFn) ProcessElement(_ context.Context, dir string, order func(Work), planned func(string, Planned)) error {
	a, s, err := sitefolder.View(dir)
	if err != nil {
		planned(dir, Planned{Trouble: err.Error()})
		return nil
	}
	todo := derive.Orders(a, *s, f.Set.Most)
	for _, o := range todo {
		order(Work{dir, o})
	}
	planned(dir, Planned{Orders: len(todo)})
	return nil
}

type rollFn struct{}

// between divides the site from the part in a key.
const between = "\x00"

// ProcessElement does an order. One that cannot be done is left to the night, which
// knows what to do where the archive is damaged or has moved on.
func (f *rollFn) ProcessElement(_ context.Context, w Work, emit func(string, Chunk)) error {
	a, s, err := sitefolder.View(w.Site)
	if err != nil {
		return nil
	}
	rolled, err := w.Order.Roll(a, *s)
	if err != nil {
		fmt.Fprintf(os.Stderr, "fleet: %s: an order is left to the night: %v\n", w.Site, err)
		return nil
	}
	for _, r := range rolled {
		c, err := pack(r)
		if err != nil {
			return err
		}
		emit(w.Site+between+r.Partition, c)
	}
	return nil
}

type writeFn struct{ Set settings }

// ProcessElement writes a part. One that is not whole, since an order of it could
// not be done, is left to the night.
func (f *writeFn) ProcessElement(_ context.Context, key string, next func(*Chunk) bool, emit func(string, derive.Part)) error {
	dir, partition, _ := strings.Cut(key, between)
	var all []derive.Rolled
	var c Chunk
	for next(&c) {
		var r derive.Rolled
		if err := c.into(&r); err != nil {
			return err
		}
		all = append(all, r)
	}
	var b bytes.Buffer
	if whole, err := derive.WriteRolled(&b, all); err != nil || !whole {
		return err
	}
	sum := sha256.Sum256(b.Bytes())
	p := derive.Part{Partition: partition, Key: all[0].Key, SHA256: hex.EncodeToString(sum[:])}
	p.Path = filepath.Join(f.Set.Scratch, nameOf(dir), p.SHA256+".parquet")
	if err := os.MkdirAll(filepath.Dir(p.Path), 0o755); err != nil {
		return err
	}
	if err := write(p.Path, b.Bytes()); err != nil {
		return err
	}
	emit(dir, p)
	return nil
}

type nightFn struct{ Set settings }

// ProcessElement runs a site's night with the parts that were made for it, and
// writes down how it ended.
func (f *nightFn) ProcessElement(ctx context.Context, dir string, planned func(*Planned) bool,
	made func(*derive.Part) bool) error {
	e := Ended{Site: dir}
	var p Planned
	for planned(&p) {
		e.Orders += p.Orders
	}
	var part derive.Part
	for made(&part) {
		e.Rolled = append(e.Rolled, part)
	}
	slices.SortFunc(e.Rolled, func(a, b derive.Part) int { return cmp.Compare(a.Partition, b.Partition) })
	e.Parts = len(e.Rolled)
	own := filepath.Join(f.Set.Scratch, nameOf(dir))
	if err := os.MkdirAll(own, 0o755); err != nil {
		return err
	}
	list, err := json.Marshal(e.Rolled)
	if err != nil {
		return err
	}
	if err := write(filepath.Join(own, "rolled.json"), list); err != nil {
		return err
	}
	if !f.Set.Only {
		if err := f.night(ctx, &e, filepath.Join(own, "rolled.json")); err != nil {
			return err
		}
	}
	b, err := json.Marshal(e)
	if err != nil {
		return err
	}
	return write(filepath.Join(own, "ended.json"), b)
}

// night runs the plain program. An archive that somebody else writes to is for the
// engine to try again.
func (f *nightFn) night(ctx context.Context, e *Ended, rolled string) error {
	c := exec.CommandContext(ctx, f.Set.Wane, "nightly", "--site", e.Site, "--rolled", rolled)
	var said bytes.Buffer
	c.Stderr = &said
	endWithMe(c)
	err := c.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		return fmt.Errorf("run %s: %w", f.Set.Wane, err)
	}
	e.Exit, e.Said = c.ProcessState.ExitCode(), said.String()
	if strings.Contains(e.Said, archive.ErrLocked.Error()) || strings.Contains(e.Said, archive.ErrOvertaken.Error()) ||
		e.Exit < 0 {
		return fmt.Errorf("%s: its night ended with %d: %s", e.Site, e.Exit, e.Said)
	}
	return nil
}

// nameOf is a site's folder in the scratch folder.
func nameOf(dir string) string {
	sum := sha256.Sum256([]byte(dir))
	return filepath.Base(dir) + "-" + hex.EncodeToString(sum[:4])
}
