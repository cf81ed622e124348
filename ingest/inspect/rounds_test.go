package inspect

import (
	"bytes"
	"fmt"
	"hash/fnv"
	"maps"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"wane/ingest/reading"
)

// A round is a set of layouts that were written down, with their truth, before the code was
// tried on them. testdata/README.md has what each came to at the first try; here they hold
// that none is read silently wrong, and that most are read.

// sheet is one invented file: the layout writes data and, by value, the truth.
type sheet struct {
	loc   *time.Location
	start time.Time
	step  time.Duration
	n     int
	seed  uint64

	file  string // name of the file
	data  []byte
	truth map[string]map[int64]float64 // channel, microseconds, value

	ans         Answers // what the person who has the file knows, besides its zone
	part        bool    // some of the truth may be left out
	whole       bool    // what the description leaves out is taken besides, and may be more than the truth
	days        bool    // a row a day
	ask, refuse bool    // asking is as right as reading; reading is wrong
	b           strings.Builder
}

type strange struct {
	name  string
	write func(s *sheet)
}

// at is the local time of row i.
func (s *sheet) at(i int) time.Time {
	if s.days {
		return s.start.AddDate(0, 0, i)
	}
	return s.start.Add(time.Duration(i) * s.step).In(s.loc)
}

// ln adds a line.
func (s *sheet) ln(cells ...string) { s.b.WriteString(strings.Join(cells, "") + "\n") }

// f adds a formatted line.
func (s *sheet) f(format string, a ...any) { fmt.Fprintf(&s.b, format+"\n", a...) }

// v is the value of a channel in row i, with a point; it is noted as truth.
func (s *sheet) v(channel string, i int) string { return s.vAt(channel, i, s.at(i)) }

// vAt is the same where the reading belongs to another moment than the row's.
func (s *sheet) vAt(channel string, i int, at time.Time) string {
	text := s.text(channel, i, at)
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		panic(err)
	}
	if s.truth[channel] == nil {
		s.truth[channel] = map[int64]float64{}
	}
	s.truth[channel][at.UnixMicro()] = x
	return text
}

// text invents a value as an instrument of that kind would show it; the kind is what stands
// before # in the channel's name.
func (s *sheet) text(channel string, i int, at time.Time) string {
	h := fnv.New64a()
	fmt.Fprint(h, channel, i)
	r := rand.New(rand.NewPCG(s.seed, h.Sum64())).Float64()
	h.Reset()
	fmt.Fprint(h, channel)
	own := float64(h.Sum64()%1000) / 1000 // of the channel
	lit := at.Hour() >= 6 && at.Hour() < 22
	on := map[bool]float64{true: 1}[lit]
	day := math.Sin(float64(at.Hour()*60+at.Minute()) / 1440 * 2 * math.Pi)
	kind, _, _ := strings.Cut(channel, "#")
	form := func(x float64, decimals int) string { return strconv.FormatFloat(x, 'f', decimals, 64) }
	switch kind {
	case "ppfd":
		return form(on*(400+200*own+12*r), 1)
	case "lux":
		return form(on*(18000+15000*own+900*r), 0)
	case "temp":
		return form(21+own+3*day+r, 1)
	case "out":
		return form(-2+own+5*day+r, 1)
	case "rh":
		return form(58+8*own-6*day+r, 1)
	case "volt":
		return form(228+4*r, 1)
	case "amp":
		return form(on*(4+own+0.2*r), 2)
	case "watt":
		return form(on*(940+100*own+30*r), 0)
	case "kwh":
		return form(18000+4000*own+float64(i)*0.2514, 3)
	case "hours":
		return form(8000+900*own+float64(i)*s.step.Hours()*0.67, 2)
	case "use":
		return form(on*(0.2+0.1*own+0.02*r)+0.01*r, 3)
	case "dim":
		return form(on*(70+10*math.Floor(4*r)), 0)
	case "co2":
		return form(420+400*r, 0)
	}
	panic("no kind of value: " + channel)
}

// comma writes a number with a decimal comma.
func decComma(v string) string { return strings.Replace(v, ".", ",", 1) }

// keptReadings collects what a description reads, by series.
type keptReadings struct {
	at      map[reading.Series]map[int64]float64
	rejects int
	clashes int
}

func (k *keptReadings) Readings(b *reading.Batch) error {
	for i := range b.Len() {
		of, v := b.Series[b.Of[i]], b.Value[i].Float()
		if k.at[of] == nil {
			k.at[of] = map[int64]float64{}
		}
		if was, again := k.at[of][b.Time[i]]; again && was != v {
			k.clashes++
			continue
		}
		k.at[of][b.Time[i]] = v
	}
	return nil
}

func (k *keptReadings) Reject(reading.Reject) error { k.rejects++; return nil }

// judge inspects the file as its owner would and holds what is read against the truth, series
// by series.
func (s *sheet) judge() (verdict, string) {
	s.ans.Zone = s.loc.String()
	s.ans.Now = time.Date(2026, 11, 30, 0, 0, 0, 0, time.UTC)
	rep, err := FileWith(s.file, bytes.NewReader(s.data), s.ans)
	switch {
	case err != nil:
		return verdict{asks, "refused: " + err.Error()}, ""
	case rep.Open():
		return verdict{asks, fmt.Sprint("asks ", rep.Questions)}, rep.Proposal
	case !rep.Believable():
		return verdict{asks, fmt.Sprint("doubts ", rep.Checks)}, rep.Proposal
	}
	v := s.readBy(rep.Proposal)
	if all := takenOut.ReplaceAllString(rep.Proposal, "  - "); v.kind == wrong && all != rep.Proposal && !s.refuse {
		s.part = true
		kept := s.readBy(rep.Proposal).kind
		s.part, s.whole = false, true
		if kept == right && s.readBy(all).kind == right {
			v = verdict{asks, "left out, with the lines that store it"}
		}
		s.whole = false
	}
	return v, rep.Proposal
}

// takenOut begins a line of a proposal that is not stored unless a person says so.
var takenOut = regexp.MustCompile(`(?m)^  # - `)

func (s *sheet) hold(got *keptReadings) verdict {
	if s.refuse {
		return verdict{wrong, "it was to be asked about or refused"}
	}
	if got.clashes > 0 {
		return verdict{wrong, fmt.Sprintf("%d readings contradict others", got.clashes)}
	}
	left := maps.Clone(got.at)
	lost := 0
	for _, channel := range slices.Sorted(maps.Keys(s.truth)) {
		want := s.truth[channel]
		best, found := -1, reading.Series{}
		for of, have := range left {
			same := 0
			for at, v := range want {
				if w, ok := have[at]; ok && closeTo(w, v) {
					same++
				}
			}
			if same == len(have) && same > best {
				best, found = same, of
			}
		}
		if best < 0 && (s.part || strings.HasSuffix(channel, "?")) {
			continue
		}
		if best < 0 {
			return verdict{wrong, fmt.Sprintf("no series stored is that of %s: %s", channel, s.some(got, want))}
		}
		if kind, _, _ := strings.Cut(strings.TrimSuffix(channel, "?"), "#"); takenFor(found.Channel) != "" &&
			takenFor(found.Channel) != takenFor(isCalled[kind]) {
			return verdict{wrong, fmt.Sprintf("%s is taken for %s", channel, found)}
		}
		lost += len(want) - best
		delete(left, found)
	}
	if len(left) > 0 && !s.whole {
		return verdict{wrong, fmt.Sprintf("series are stored that are none: %v", slices.Collect(maps.Keys(left)))}
	}
	if lost > 0 && got.rejects == 0 {
		return verdict{wrong, fmt.Sprintf("%d readings are gone without a word", lost)}
	}
	if lost > 0 {
		return verdict{asks, fmt.Sprintf("%d readings went to quarantine in %d rejects", lost, got.rejects)}
	}
	return verdict{right, ""}
}

// isCalled has what a kind of value is called once it is known; what stands under another name is only kept.
var isCalled = map[string]string{"ppfd": "ppfd", "temp": "ambient_c", "out": "ambient_c", "pipetemp": "ambient_c", "rh": "rh_pct",
	"volt": "supply_v", "u12": "supply_v", "u23": "supply_v", "u31": "supply_v", "amp": "current_a", "in": "current_a",
	"watt": "power_w", "kw": "power_w", "kwh": "energy_kwh", "hours": "run_hours", "dim": "dim_pct"}

// takenFor is the quantity by whose name a channel is called, if by any.
func takenFor(channel string) string {
	name := anotherOf.ReplaceAllString(channel, "")
	for _, q := range isCalled {
		if name == q {
			return q
		}
	}
	return ""
}

var anotherOf = regexp.MustCompile(`(_\d+)+$`)

// some shows the first readings of a channel and of what was stored.
func (s *sheet) some(got *keptReadings, want map[int64]float64) string {
	show := func(m map[int64]float64) (out string) {
		for _, at := range slices.Sorted(maps.Keys(m))[:min(3, len(m))] {
			out += fmt.Sprintf(" %s=%v", time.UnixMicro(at).UTC().Format("2006-01-02T15:04:05Z"), m[at])
		}
		return out
	}
	out := "want" + show(want)
	for of, m := range got.at {
		out += fmt.Sprintf("; %v has%s", of, show(m))
	}
	return out
}

// lineByLine is a file of a head and a line a moment.
func lineByLine(name, head, order string, write func(s *sheet, i int) string) strange {
	return strange{name, func(s *sheet) {
		s.ans.Order = order
		if head != "" {
			s.ln(head)
		}
		for i := range s.n {
			s.ln(write(s, i))
		}
	}}
}

// playRound reads every layout with every content and counts.
func playRound(t *testing.T, layouts []strange, contents []sheet, atLeast int) {
	t.Parallel()
	t.Helper()
	if raced {
		contents, atLeast = contents[:1], 0
	}
	count, files := map[string]int{}, 0
	for i, l := range layouts {
		if passedOver(i) {
			continue
		}
		for k, c := range contents {
			s := l.written(c, k+1)
			v, proposal := s.judge()
			if v.kind == asks && (s.refuse || s.ask) {
				v.kind = right
			}
			files++
			count[v.kind]++
			if v.kind != right {
				t.Logf("%s, content %d: %s: %s", l.name, k+1, v.kind, v.why)
			}
			if v.kind == wrong {
				t.Errorf("%s, content %d, is read silently wrong: %s\n%s\n%s", l.name, k+1, v.why, s.data[:min(len(s.data), 400)],
					proposal)
			}
		}
	}
	t.Logf("%d layouts, %d files: %v", len(layouts), files, count)
	if count[right] < atLeast {
		t.Errorf("%d of %d files are read right, fewer than %d", count[right], files, atLeast)
	}
}

// passedOver says whether layout i is one of those that the race detector need not see.
func passedOver(i int) bool { return raced && i%4 > 0 }

func place(name string) *time.Location {
	l, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return l
}
