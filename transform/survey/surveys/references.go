package surveys

import (
	"fmt"
	"math"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat/distuv"
)

// Reference is what a survey says of a fixture's true output: ln of its level
// over that on the day of the first survey of the same lamp, the rig's drift
// taken out by the reference fixture.
type Reference struct {
	Fixture   string
	First, At time.Time // of the first survey and of this one
	Ln, SD    float64
	Survey    string
}

// References gives a reading for each later survey whose comparison with the
// first one of the same lamp rests on the reference fixture on both visits.
// Without that, a drifting rig would be taken for a fading lamp, so there is
// none; and none where the pattern changed (the common ratio is then not that of
// any one spot) or the conditions were off and not corrected. What is left out
// so is said in words.
//
// The first survey's own error is common to all later ones of a lamp; since
// whoever takes them in counts them as independent, that half of the variance
// is multiplied by their number.
func (b *Book) References() (out []Reference, left []string) {
	for _, f := range b.Fixtures() {
		for _, es := range b.lampsOf(f) {
			refs, why := b.referencesOf(es)
			out, left = append(out, refs...), append(left, why...)
		}
	}
	return out, left
}

// lampsOf gives a fixture's surveys lamp by lamp.
func (b *Book) lampsOf(fixture string) (out [][]*Entry) {
	es := b.Of(fixture)
	for lo := 0; lo < len(es); {
		hi := lo + 1
		for hi < len(es) && len(b.relamps(es[lo], es[hi])) == 0 {
			hi++
		}
		out = append(out, es[lo:hi])
		lo = hi
	}
	return out
}

// Begun gives, of the lamp that was last surveyed in each fixture, the first survey, and
// how well a later one would tell what is left of its light: SD of its ln. None where a
// later one could not be held against it.
func (b *Book) Begun() (out []Reference) {
	for _, f := range b.Fixtures() {
		lamps := b.lampsOf(f)
		e := lamps[len(lamps)-1][0]
		c, err := b.Compare(e, e) // as were it surveyed so once more
		if err != nil || !c.Rig.Drift.Known() || e.off() != "" {
			continue
		}
		out = append(out, Reference{Fixture: f, First: e.TakenAt, SD: c.lnSD()})
	}
	return out
}

// lnSD is the standard deviation of ln of the level.
func (c *Change) lnSD() float64 {
	return math.Log(c.Level.Hi/c.Level.Lo) / (2 * distuv.UnitNormal.Quantile(.5+c.Level.Level/2))
}

func (b *Book) referencesOf(es []*Entry) (out []Reference, left []string) {
	for _, e := range es[1:] {
		c, err := b.Compare(es[0], e)
		why := ""
		switch {
		case e.Visit == es[0].Visit:
			continue // a repeat on the same day tells of the rig, not of ageing
		case err != nil:
			why = err.Error()
		case !c.Rig.Drift.Known():
			why = "the reference fixture was not surveyed on both visits"
		case c.Shape.Changed:
			why = "its pattern changed: look at reflector, lens and aim first"
		case es[0].off() != "" || e.off() != "":
			why = es[0].off() + e.off()
		}
		if why != "" {
			left = append(left, fmt.Sprintf("survey %s of %s is no reference for the forecast: %s", e.ID, e.Fixture, why))
			continue
		}
		out = append(out, Reference{
			Fixture: e.Fixture, First: es[0].TakenAt, At: e.TakenAt, Survey: e.ID,
			Ln: math.Log(c.Level.Centre), SD: c.lnSD(),
		})
	}
	for i := range out {
		v := out[i].SD * out[i].SD
		out[i].SD = math.Sqrt(v/2 + float64(len(out))*v/2)
	}
	return out, left
}

// off says which condition was off the declared one and was not corrected; one
// that was not written down is not known to be off.
func (e *Entry) off() string {
	corrected := map[string]bool{}
	for _, c := range e.Corrections {
		if c.Applied {
			corrected[c.Rule] = true
		}
	}
	for _, f := range e.Flags {
		switch {
		case f.What == "fixture" || f.What == "grid", strings.Contains(f.Words, "was not written down"),
			f.What == "supply" && corrected["supply coefficient"], f.What == "height" && corrected["inverse square"]:
			continue
		}
		return e.ID + ": " + f.Words
	}
	return ""
}
