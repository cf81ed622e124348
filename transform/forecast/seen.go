package forecast

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math"
)

// Fingerprint is a hash of all that a fit can see of the input, and that a
// backtest can see of its past. Inputs with the same one have the same
// posteriors, but for what At sets: on six nights of seven no week has ended,
// and the fit of the night before is still the fit.
func (in *Input) Fingerprint() [sha256.Size]byte {
	h := sha256.New()
	fmt.Fprintf(h, "%+v\n", in.defaults())
	for i := range in.Groups {
		g := &in.Groups[i]
		fmt.Fprintf(h, "%q %d\n", g.ID, g.Start)
		for _, r := range g.Recals {
			if r.Day <= in.AsOf {
				fmt.Fprintf(h, "%+v\n", r)
			}
		}
		for _, r := range g.References {
			if r.Day <= in.AsOf {
				fmt.Fprintf(h, "%+v\n", r)
			}
		}
	}
	lamps := make([][sha256.Size]byte, len(in.Lamps))
	inParallel(len(lamps), func(i int) { lamps[i] = sha256.Sum256(in.Lamps[i].seen(nil, in.AsOf)) })
	for i := range lamps {
		h.Write(lamps[i][:])
	}
	var out [sha256.Size]byte
	h.Sum(out[:0])
	return out
}

// seen appends what can be seen of a lamp as of a day.
func (l *Lamp) seen(to []byte, asOf int) []byte {
	if l.StartDay > asOf {
		return append(to, "later\n"...)
	}
	for _, s := range [...]string{l.Fixture, l.Class, l.Gear, l.Lot, l.Room} {
		to = append(binary.AppendUvarint(to, uint64(len(s))), s...)
	}
	to = whole(to, l.Life, l.Group, l.Hung, l.StartDay)
	to = real(to, l.StartHours, l.Burn.RelSD)
	if l.Ended && l.EndDay <= asOf {
		to = real(whole(append(to, "ended"...), l.EndDay), l.HoursNow)
	}
	for _, w := range l.Watched {
		if w.From <= asOf {
			to = whole(append(to, "watched"...), w.From, w.Group)
		}
	}
	for _, o := range l.Offsets {
		if o.Day <= asOf {
			to = append(whole(append(to, "offset"...), o.Day), o.Why...)
		}
	}
	to = real(to, l.Corrected.Supply, l.Corrected.Ambient)
	for _, c := range l.Cleanings {
		if c.Day <= asOf {
			to = append(whole(append(to, "clean"...), c.Day), c.Part...)
		}
	}
	blocks := Chain(l.Before, usableBlocks(l.Blocks, asOf))
	return append(append(to, blocks[:]...), '\n')
}

// Chain is a hash of blocks by which those that follow them, in the next chain,
// come to the same as all in one.
func Chain(before [sha256.Size]byte, blocks []Block) [sha256.Size]byte {
	var buf []byte
	for i := range blocks {
		b := &blocks[i]
		buf = append(buf[:0], before[:]...)
		buf = real(whole(buf, b.Day, b.N), b.Hours, b.LnOut, b.Supply, b.Ambient, b.Dim)
		if b.HasSupply {
			buf = append(buf, 's')
		}
		if b.HasAmbient {
			buf = append(buf, 'a')
		}
		before = sha256.Sum256(buf)
	}
	return before
}

func whole(to []byte, v ...int) []byte {
	for _, x := range v {
		to = binary.AppendVarint(to, int64(x))
	}
	return to
}

func real(to []byte, v ...float64) []byte {
	for _, x := range v {
		to = binary.BigEndian.AppendUint64(to, math.Float64bits(x))
	}
	return to
}

// Timeless is the posterior without what At sets, as it is stored for all the
// nights that it holds for.
func (p Posterior) Timeless() Posterior {
	p.Stand(0, 0, 0, Burn{}, false)
	return p
}

// At sets what of a posterior does not come from the fit: the day, and how the
// lamp and its room stand on it. It is of lamp p.Lamp of the input.
func (p *Posterior) At(in *Input) {
	l := &in.Lamps[p.Lamp]
	p.Stand(in.AsOf, l.HoursNow, l.Threshold, l.Burn, l.Dark)
}

// Stand is At by the values themselves: the day, the lamp's run-hours and
// threshold, its room's burning habit, and whether it is dark.
func (p *Posterior) Stand(asOf int, hours, threshold float64, burn Burn, dark bool) {
	p.AsOf, p.HoursNow, p.Threshold, p.Burn, p.Dark = asOf, hours, threshold, burn, dark
}
