package derive

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/transform/fleet"
)

// fact is one thing that the register says, and the moment from which on the
// roll-up can depend on it.
type fact struct {
	at   int64 // microseconds UTC
	kind factKind
	row  int32 // of its table
}

type factKind uint8

const (
	hung   factKind = iota // of a fixture: what it is and where it was hung
	begins                 // of a sensor's row: that it begins to hold
	ends                   // … and that it ends
	told                   // of an entry of the logbook
)

// facts is what of the register a table's days depend on. What has no bearing on
// them (notes, the end of a row that still holds) is left out, so that it may
// change without any day being made again.
type facts struct {
	reg   *fleet.Register
	inBay map[string][]*fleet.Fixture
	tells []fleet.What
}

// What the days of table daily depend on, and those of table hours.
var (
	toldOfDays  = []fleet.What{fleet.Move, fleet.Dim, fleet.Install, fleet.Retire}
	toldOfHours = []fleet.What{fleet.Move, fleet.Install, fleet.Retire, fleet.Relamp, fleet.Fail, fleet.Outage,
		fleet.HoursRead}
)

func factsOf(r *fleet.Register, tells []fleet.What) *facts {
	f := &facts{reg: r, inBay: map[string][]*fleet.Fixture{}, tells: tells}
	for i := range r.Fixtures {
		x := &r.Fixtures[i]
		f.inBay[x.Bay] = append(f.inBay[x.Bay], x)
	}
	return f
}

// inOrder gives the facts in order of time.
func (f *facts) inOrder() []fact {
	r := f.reg
	out := make([]fact, 0, len(r.Fixtures)+len(r.Sensors)+len(r.Logbook))
	for i := range r.Fixtures {
		out = append(out, fact{r.Fixtures[i].Installed.UnixMicro(), hung, int32(i)})
	}
	for i := range r.Sensors {
		p := &r.Sensors[i]
		out = append(out, fact{p.From.UnixMicro(), begins, int32(i)})
		if !p.To.IsZero() {
			out = append(out, fact{p.To.UnixMicro(), ends, int32(i)})
		}
	}
	for i := range r.Logbook {
		if e := &r.Logbook[i]; slices.Contains(f.tells, e.What) {
			out = append(out, fact{e.At.UnixMicro(), told, int32(i)})
		}
	}
	slices.SortStableFunc(out, func(a, b fact) int { return cmp.Compare(a.at, b.at) })
	return out
}

// text appends what a fact says.
func (f *facts) text(to []byte, x fact) []byte {
	switch x.kind {
	case hung:
		h := &f.reg.Fixtures[x.row]
		return moment(number(words(to, "fixture", h.ID, h.Room, h.Bay, h.Circuit, string(h.LampType)),
			h.HoursAtInstall), h.Installed)
	case begins, ends:
		p := &f.reg.Sensors[x.row]
		to = words(to, "sensor", p.Sensor, p.Channel, string(p.Quantity), p.Watches)
		to = moment(number(to, p.Factor), p.From)
		to = binary.AppendUvarint(to, uint64(f.reg.RowsBefore(int(x.row))))
		if x.kind == ends {
			to = moment(to, p.To)
		}
		return to
	}
	e := &f.reg.Logbook[x.row]
	to = number(words(to, "entry", string(e.What), string(e.Scope), e.ID, e.Value), e.Number)
	to = moment(moment(to, e.At), e.Until)
	if e.What == fleet.Move { // the others of the bay tell which room and circuit it leads to
		for _, h := range f.inBay[e.Value] {
			to = words(to, h.ID, h.Room, h.Circuit)
		}
	}
	return to
}

func words(to []byte, s ...string) []byte {
	for _, w := range s {
		to = append(binary.AppendUvarint(to, uint64(len(w))), w...)
	}
	return to
}

func number(to []byte, v float64) []byte {
	return binary.BigEndian.AppendUint64(to, math.Float64bits(v))
}

func moment(to []byte, t time.Time) []byte {
	return binary.BigEndian.AppendUint64(to, uint64(t.UnixMicro()))
}

// factChain hashes the facts of one moment after those of the other, so that the
// hash of all facts before any moment is at hand.
type factChain struct {
	at  []int64             // microseconds UTC
	sum [][sha256.Size]byte // sum[i] is of the facts of the first i moments
}

// chainOf makes the chain of what a register says.
func chainOf(r *fleet.Register, tells []fleet.What) factChain {
	f := factsOf(r, tells)
	said := f.inOrder()
	c := factChain{sum: make([][sha256.Size]byte, 1)}
	h := sha256.New()
	var text, size []byte
	for lo, hi := 0, 0; lo < len(said); lo = hi {
		h.Reset()
		h.Write(c.sum[len(c.sum)-1][:])
		for hi = lo; hi < len(said) && said[hi].at == said[lo].at; hi++ {
			text = f.text(text[:0], said[hi])
			size = binary.AppendUvarint(size[:0], uint64(len(text)))
			h.Write(size)
			h.Write(text)
		}
		c.at, c.sum = append(c.at, said[lo].at), append(c.sum, [sha256.Size]byte(h.Sum(nil)))
	}
	return c
}

// before gives the hash of what was said before t.
func (c *factChain) before(t time.Time) [sha256.Size]byte {
	i, _ := slices.BinarySearch(c.at, t.UnixMicro())
	return c.sum[i]
}

// sky is what the roll-up depends on in a greenhouse.
func sky(s sitefolder.Site) string {
	text := ""
	for name, r := range s.Config.Rooms {
		if r.Daylight {
			text += name + " "
		}
	}
	if text == "" {
		return ""
	}
	names := strings.Fields(text)
	sort.Strings(names)
	return fmt.Sprintf("%v at %v %v", names, *s.Config.Latitude, *s.Config.Longitude)
}

// decisionFacts is what was decided about readings of the days [since, to);
// "" where nothing was.
func decisionFacts(r *fleet.Register, since, to time.Time) string {
	var b strings.Builder
	for _, d := range r.Decisions {
		if d.From.Before(to) && !d.To.Before(since) {
			d.Line = 0
			d.From, d.To = d.From.UTC(), d.To.UTC()
			fmt.Fprintf(&b, "%+v\n", d)
		}
	}
	return b.String()
}
