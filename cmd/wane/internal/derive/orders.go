package derive

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/transform/daily"
	"wane/transform/fleet"
)

// Order is work of its own: some parts of table daily that follow each other, for
// some of the fixtures. It names readings and carries none, so that whoever has
// the archive at hand may do it, on another machine too.
type Order struct {
	Partitions []string
	Keys       []string // of the partitions: what they are made from
	Lo, Hi, Of int      // from fixture Lo up to Hi of so many, in order of name
}

// Orders gives the orders, of so many fixtures at most, that Daily would do
// itself.
func Orders(a *archive.Archive, s sitefolder.Site, most int) []Order {
	return orders(a, s, fewFixtures, most)
}

func orders(a *archive.Archive, s sitefolder.Site, fewest, most int) []Order {
	held := map[string]string{}
	for _, p := range a.Parts(TableDaily) {
		held[p.Partition] = p.Key
	}
	n := len(s.Register.Fixtures)
	var due []span
	for _, p := range dailyParts(a.Parts(archive.Readings), s, n >= fewest) {
		if held[p.partition] != p.key {
			due = append(due, p)
		}
	}
	var out []Order
	for _, some := range batches(due) {
		for lo := 0; lo < n; lo += most {
			o := Order{Lo: lo, Hi: min(lo+most, n), Of: n}
			for _, p := range some {
				o.Partitions, o.Keys = append(o.Partitions, p.partition), append(o.Keys, p.key)
			}
			out = append(out, o)
		}
	}
	return out
}

// Rolled is what an order came to for one of its parts.
type Rolled struct {
	Partition, Key string
	Lo, Hi, Of     int // of the order
	Rows           []daily.Row
}

// Roll does the order.
func (o *Order) Roll(a *archive.Archive, s sitefolder.Site) ([]Rolled, error) {
	fixtures := s.Register.ByName()
	if o.Of != len(fixtures) || o.Lo < 0 || o.Hi > o.Of || o.Lo >= o.Hi || len(o.Keys) != len(o.Partitions) {
		return nil, errors.New("the order is of another register")
	}
	fixtures = fixtures[o.Lo:o.Hi]
	var parts []span
	var days []int32
	for i, name := range o.Partitions {
		p, ok := spanOf(archive.Part{Partition: name, Key: o.Keys[i]})
		if !ok {
			return nil, fmt.Errorf("the order is of %q, which is no part of %s", name, TableDaily)
		}
		parts, days = append(parts, p), append(days, p.days()...)
	}
	t := newTracks(a, s.Register, wantedOf(s, fixtures, days))
	rows, err := rollDays(t, s, fixtures, days)
	if err != nil {
		return nil, err
	}
	out := make([]Rolled, len(parts))
	for i, p := range parts {
		out[i] = Rolled{p.partition, p.key, o.Lo, o.Hi, o.Of, p.rows(rows, len(parts) == 1)}
	}
	return out, nil
}

// wantedOf gives the series that the roll-up reads for the fixtures on the days.
func wantedOf(s sitefolder.Site, fixtures []*fleet.Fixture, days []int32) wanted {
	every, at := wantedSeries(s.Register), bounds(days, s.Config.Location)
	out := wanted{}
	for _, f := range fixtures {
		eachWatch(s, f, at, func(who *watchers, _ []daily.Bound) { who.series(out, every) })
	}
	return out
}

// WriteRolled writes a part from what all its orders came to, in any order: the
// same bytes that Daily writes. Where an order is missing, twice there or of
// something else, the part is not whole, and nothing is written.
func WriteRolled(w io.Writer, all []Rolled) (whole bool, err error) {
	slices.SortFunc(all, func(a, b Rolled) int { return cmp.Compare(a.Lo, b.Lo) })
	end := 0
	var rows []daily.Row
	for _, r := range all {
		if r.Lo != end || r.Partition != all[0].Partition || r.Key != all[0].Key || r.Of != all[0].Of {
			return false, nil
		}
		end, rows = r.Hi, append(rows, r.Rows...)
	}
	if len(all) == 0 || end != all[0].Of {
		return false, nil
	}
	return true, archive.WriteTable(w, dailyColumns(rows))
}

// Part is a part of table daily that was made elsewhere, in a file.
type Part struct {
	Partition, Key string
	Path, SHA256   string
}

// takeOffered takes the part from those offered, if there is one of the same key,
// whole.
func takeOffered(d *archive.Derivation, p span, offered []Part) (bool, error) {
	for _, o := range offered {
		if o.Partition != p.partition || o.Key != p.key {
			continue
		}
		b, err := os.ReadFile(o.Path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return false, err
		}
		if sum := sha256.Sum256(b); hex.EncodeToString(sum[:]) != o.SHA256 {
			continue // it is not what was made
		}
		_, err = d.Make(TableDaily, p.partition, p.key, func(to string) error { return os.WriteFile(to, b, 0o600) })
		return err == nil, err
	}
	return false, nil
}
