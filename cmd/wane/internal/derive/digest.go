package derive

import (
	"crypto/sha256"
	"encoding/hex"
	"hash"
	"maps"
	"math"
	"slices"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/transform/fleet"
	"wane/transform/lamp"
	"wane/transform/level"
)

// digest hashes what the register and the record say about the days of a part.
type digest struct {
	h   hash.Hash
	buf []byte
}

func newDigest(table string, s sitefolder.Site) *digest {
	b := s.Config.Baseline
	return (&digest{h: sha256.New()}).text(table, Version).number(b.SeasoningHours, b.LatestHours).whole(b.Days)
}

func (d *digest) text(s ...string) *digest {
	d.buf = words(d.buf, s...)
	if len(d.buf) > 1<<14 {
		d.h.Write(d.buf)
		d.buf = d.buf[:0]
	}
	return d
}

func (d *digest) number(v ...float64) *digest {
	for _, x := range v {
		if math.IsNaN(x) {
			x = -math.MaxFloat64
		}
		d.buf = number(d.buf, x)
	}
	return d
}

func (d *digest) whole(v ...int) *digest {
	for _, x := range v {
		d.buf = number(d.buf, float64(x))
	}
	return d
}

// stretch adds what of a stretch lies within some days.
func (d *digest) stretch(x fleet.Stretch, first, last int32) *digest {
	return d.whole(int(max(x.First, first)), int(min(x.Last, last)))
}

// life adds what is said of a lamp life on some days, its key among the others
// included: rows are in its order.
func (d *digest) life(l *lamp.Life, first, last int32) {
	d.text("life", l.Fixture.ID).whole(l.N).stretch(fleet.Stretch{First: l.FirstDay, Last: l.LastDay}, first,
		last).whole(int(l.ReadFrom()))
	d.number(l.Base.ReferenceV, l.Corrected.ReferenceC, l.Corrected.Supply[l.Gear], l.Corrected.Ambient[l.LampType])
	if l.LampType.Discharge() {
		d.text("seasoned")
	}
}

// gain adds what is said of a sensor's gain on some days.
func (d *digest) gain(g level.Gain, first, last int32) {
	if g.First > last || g.Last < first {
		return
	}
	d.text("gain", g.Sensor).whole(int(g.First), int(min(g.Last, last))).number(g.PerDay)
	if g.Measured {
		d.text("measured")
	}
	if g.Known {
		d.text("known")
	}
}

// key ends the digest with the names of the parts.
func (d *digest) key(over map[string][]archive.Part) string {
	d.h.Write(d.buf)
	var parts []archive.Part
	for _, table := range slices.Sorted(maps.Keys(over)) {
		parts = append(parts, over[table]...)
	}
	return archive.Key(parts, hex.EncodeToString(d.h.Sum(nil)))
}
