package surveys

import (
	"fmt"
	"strings"
)

// Asked is one condition of a survey that was not kept to, or not written down:
// what it does to the survey, and what a person can do about it.
type Asked struct {
	What   string // the condition, as Flag.What; "meter" for another one than before
	Words  string // what was found
	Effect string // what that does: widens, leaves out, nothing
	Do     string
}

// String is the whole in one line.
func (a Asked) String() string { return a.Words + ": " + a.Effect + "; " + a.Do }

// File is where conditions stand beside surveys, for what Asked says to do.
const File = "register/surveys.csv"

// Asks lists what to ask about a survey that has just come in.
func (b *Book) Asks(e *Entry) (out []Asked) {
	corrected := map[string]bool{}
	for _, c := range e.Corrections {
		if c.Applied {
			corrected[c.Rule] = true
			out = append(out, Asked{What: c.Rule, Words: c.Words, Effect: "corrected, and wider by the rule's own uncertainty",
				Do: "survey under the declared conditions where you can"})
		}
	}
	for _, f := range e.Flags {
		a := Asked{What: f.What, Words: f.Words}
		where := "correct " + File
		if f.What == "height" {
			where = "add the sheet again with its true height under another name"
		}
		switch {
		case f.What == "fixture" || f.What == "grid":
			continue
		case f.What == "supply" && corrected["supply coefficient"], f.What == "height" && corrected["inverse square"]:
			continue // said with its correction
		case strings.Contains(f.Words, "was not written down"):
			a.Effect, a.Do = "taken to have been as declared", "if it was not, write it into "+File
		case f.What == "warm-up":
			a.Effect, a.Do = fmt.Sprintf("counts with %g %% more spread", 100*warmUpSD),
				"was it so? If not, "+where+"; if so, survey again with the lamp settled"
		default:
			a.Effect, a.Do = "left out of forecasts", "was it so? If not, "+where+"; if so, survey again as declared"
		}
		out = append(out, a)
	}
	if before, now := b.meters(e); before != "" && now != before {
		out = append(out, Asked{What: "meter", Words: fmt.Sprintf("read with %s, the visits before with %s", now, before),
			Effect: fmt.Sprintf("this visit's gain is known %g %% less well", b.rig.Uncertainty.SensorPct),
			Do:     "read the reference fixture with both on one day, or name the meter in " + File})
	}
	return out
}

// meters names the sensors of the first visit that names any, and those of a
// survey; "" where the survey names none or is of that visit.
func (b *Book) meters(e *Entry) (before, now string) {
	now = strings.Join(e.Sensors(), "+")
	if now == "" {
		return "", ""
	}
	for _, o := range b.Entries {
		if o.Visit >= e.Visit {
			break
		}
		if names := strings.Join(o.Sensors(), "+"); names != "" {
			return names, now
		}
	}
	return "", now
}
