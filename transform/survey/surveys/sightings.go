package surveys

import (
	"fmt"
	"math"
	"strings"
	"time"

	"wane/transform/survey"
)

// Sighting is one survey as evidence of its lamp's output.
type Sighting struct {
	Survey  string
	At      time.Time
	Visit   int // index into Book.Visits
	Ln, SD  float64
	SupplyV float64 // at the fixture, where no correction took it out; 0: not written down
	Spots   int     // that all surveys of the lamp read
}

// warmUpSD is the spread allowed for a survey begun before the declared warm-up
// was over, ln (common practice, no source: run-up and thermal settling leave
// some per cent).
const warmUpSD = .02

// Sightings gives the surveys of each lamp of a fixture, lamp by lamp, and those
// of the reference fixture where it is asked for. What cannot be used is said.
func (b *Book) Sightings(fixture string) (lamps [][]Sighting, left []string) {
	es := b.Of(fixture)
	for lo := 0; lo < len(es); {
		hi := lo + 1
		for hi < len(es) && len(b.relamps(es[lo], es[hi])) == 0 {
			hi++
		}
		s, why := b.sightingsOf(es[lo:hi])
		if len(s) > 0 {
			lamps = append(lamps, s)
		}
		left, lo = append(left, why...), hi
	}
	return lamps, left
}

func (b *Book) sightingsOf(es []*Entry) (out []Sighting, left []string) {
	var used []survey.Survey
	var of []*Entry
	for _, e := range es {
		if why := e.off(); why != "" && !strings.Contains(why, "warm-up") {
			left = append(left, fmt.Sprintf("survey %s is no evidence of the lamp: %s", e.ID, why))
			continue
		}
		used, of = append(used, e.Used), append(of, e)
	}
	seen, why := survey.Sightings(used, b.uncertainty(of...))
	for i, e := range of {
		if w := why[i]; w != "" {
			left = append(left, fmt.Sprintf("survey %s is no evidence of the lamp: %s", e.ID, w))
		}
	}
	for _, s := range seen {
		e := of[s.Of]
		x := Sighting{Survey: e.ID, At: e.TakenAt, Visit: e.Visit, Ln: s.Ln, SD: s.SD, Spots: s.N}
		for _, f := range e.Flags {
			if f.What == "warm-up" && !strings.Contains(f.Words, "was not written down") {
				x.SD = math.Hypot(x.SD, warmUpSD)
			}
		}
		if v := e.Conditions.SupplyV; v != nil && *v > 0 && !e.corrected("supply coefficient") {
			x.SupplyV = *v
		}
		out = append(out, x)
	}
	return out, left
}

func (e *Entry) corrected(rule string) bool {
	for _, c := range e.Corrections {
		if c.Applied && c.Rule == rule {
			return true
		}
	}
	return false
}

// VisitSD is the spread of the rig's gain on each visit, ln: as declared, or that
// of another sensor's calibration where its surveys were read with one that the
// visits before were not.
func (b *Book) VisitSD() []float64 {
	out := make([]float64, len(b.Visits))
	first := ""
	for v, o := range b.Visits {
		out[v] = b.rig.Uncertainty.OccasionPct / 100
		for _, s := range append(append([]survey.Survey(nil), o.References...), o.Fixtures...) {
			names := strings.Join(s.Sensors(), "+")
			if names == "" {
				continue // not written down: taken as the same
			}
			if first == "" {
				first = names
			}
			if names != first {
				out[v] = math.Hypot(out[v], b.rig.Uncertainty.SensorPct/100)
				break
			}
		}
	}
	return out
}
