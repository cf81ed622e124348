package surveys

import (
	"math"
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
// none.
//
// The first survey's own error is common to all later ones of a lamp; since
// whoever takes them in counts them as independent, that half of the variance
// is multiplied by their number.
func (b *Book) References() []Reference {
	var out []Reference
	for _, f := range b.Fixtures() {
		es := b.Of(f)
		for lo := 0; lo < len(es); {
			hi := lo + 1
			for hi < len(es) && len(b.relamps(es[lo], es[hi])) == 0 {
				hi++
			}
			out = append(out, b.referencesOf(es[lo:hi])...)
			lo = hi
		}
	}
	return out
}

func (b *Book) referencesOf(es []*Entry) []Reference {
	var out []Reference
	for _, e := range es[1:] {
		c, err := b.Compare(es[0], e)
		if err != nil || !c.Rig.Drift.Known() || e.Visit == es[0].Visit {
			continue
		}
		z := distuv.UnitNormal.Quantile(.5 + c.Level.Level/2)
		out = append(out, Reference{
			Fixture: e.Fixture, First: es[0].TakenAt, At: e.TakenAt, Survey: e.ID,
			Ln: math.Log(c.Level.Centre), SD: math.Log(c.Level.Hi/c.Level.Lo) / (2 * z),
		})
	}
	for i := range out {
		v := out[i].SD * out[i].SD
		out[i].SD = math.Sqrt(v/2 + float64(len(out))*v/2)
	}
	return out
}
