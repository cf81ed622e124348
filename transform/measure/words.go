package measure

import (
	"fmt"
	"strings"
	"time"

	"wane/transform/plan"
)

// Do says in the imperative what a person does, and how it is written down.
func (c *Candidate) Do() string {
	switch c.Kind {
	case plan.Recalibrate:
		return fmt.Sprintf("recalibrate sensor %s and note its as-found gain: `wane log recalibrate sensor %s --value "+
			"AS_FOUND`", c.Target, quoted(c.Target))
	case plan.Reference:
		return fmt.Sprintf("hold a reference meter beside sensor %s at fixture %s, lamps at full power and warm, and "+
			"note its PPFD: `wane log reference fixture %s --value PPFD`",
			c.Target, c.Fixtures[0], quoted(c.Fixtures[0]))
	case plan.CleanHalf:
		return fmt.Sprintf("clean %s, leave the others under sensor %s as they are, and log each: `wane log clean "+
			"fixture %s --value all`",
			list(c.Fixtures), c.Target, quoted(c.Fixtures[0]))
	case plan.Voltage:
		return fmt.Sprintf("put a voltage logger on circuit %s and declare it in register/sensors.csv", c.Target)
	case plan.Survey:
		return fmt.Sprintf("survey %s and the reference fixture over the same grid and at the same height as the "+
			"first time, at full power and warm: `wane survey sheet` prints the spots; put the filled sheet into inbox/",
			c.Target)
	case plan.Lab:
		return fmt.Sprintf("when the lamp of %s comes down, have its light measured as it is against a new lamp of "+
			"its make, and note the level: `wane log reference fixture %s --value LEVEL --at %s`",
			c.Target, quoted(c.Target), c.On.Format(time.DateOnly))
	}
	return c.Kind + " " + c.Target
}

// Settle is Do in few words, without the command: the one best step in a lamp's reason.
func (c *Candidate) Settle() string {
	switch c.Kind {
	case plan.Recalibrate:
		return fmt.Sprintf("recalibrate sensor %s, noting its as-found gain", c.Target)
	case plan.Reference:
		return fmt.Sprintf("hold a reference meter beside sensor %s once, and log its PPFD", c.Target)
	case plan.CleanHalf:
		return fmt.Sprintf("clean every other fixture under sensor %s, leave the rest, and log it", c.Target)
	case plan.Survey:
		return fmt.Sprintf("survey %s again, as the first time", c.Target)
	}
	return c.Do()
}

// quoted is a name as a shell takes it.
func quoted(s string) string {
	if strings.ContainsAny(s, " '\"$`\\&;()<>|*?#~!") {
		return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
	}
	return s
}

// named is how many fixtures are named before the rest are counted.
const named = 6

func list(names []string) string {
	if len(names) <= named {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:named], ", "), len(names)-named)
}

// Why says what a chosen measurement would do, in words.
func (c *Choice) Why(s plan.Settings, priced bool) string {
	var out []string
	if c.Dated > 0 {
		out = append(out, fmt.Sprintf("%s a date", count(c.Dated, "lamp gets", "lamps get")))
	}
	if n := c.Moved - c.Dated; n > 0 && c.Before > 0 {
		out = append(out, fmt.Sprintf("the due dates of %s are known to within %.0f days instead of %.0f, in the median",
			count(n, "lamp", "lamps"), c.After, c.Before))
	}
	if len(out) == 0 {
		out = append(out, "it sharpens no date by 5 % or more, many by a little")
		if c.Days < 1 {
			out[0] = "it sharpens no date"
		}
	}
	if priced {
		out = append(out, fmt.Sprintf("expected to save %s of lamps replaced too early and light lost too late, for %s",
			s.InMoney(c.Gain), s.InMoney(c.Cost.Money)))
	}
	if c.Kind == plan.Voltage {
		out = append(out, "counts once it has recorded a year")
	}
	if c.Kind == plan.CleanHalf {
		out = append(out, fmt.Sprintf("counts %d weeks after it", cleanWeeks))
	}
	if !c.With.IsZero() {
		out = append(out, "goes with the visit of "+c.With.Format(time.DateOnly))
	}
	return strings.Join(out, "; ")
}

// Pays says whether it is expected to save more than it costs; only where both are
// priced.
func (c *Choice) Pays() bool { return c.Gain > c.Cost.Money }

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Caution stands where somebody acts on it. They rest on the sources of plan.Cautions.
func (c *Candidate) Caution() string {
	switch c.Kind {
	case plan.Recalibrate:
		return "lamps off and cool before anyone reaches up to a sensor under them; work at height needs a platform " +
			"made for it, and a second person"
	case plan.Reference:
		return "lamps burn while the meter is read: do not look into them, wear eye protection, keep out from under a " +
			"lamp with a broken outer bulb or missing shield"
	case plan.CleanHalf:
		return "isolate and lock out the circuit, prove it dead, let lamps cool; work at height needs a platform made " +
			"for it, and a second person; lamps are glass and hold mercury"
	case plan.Voltage:
		return "mains: a licensed electrician fits it, on an isolated and locked out circuit that was proved dead"
	case plan.Lab:
		return "isolate, lock out and let cool before the lamp is taken down; it holds mercury: carry it whole in a " +
			"closed, labelled container"
	case plan.Survey:
		return "lamps burn while the grid is read: do not look into them, wear eye protection, keep out from under a " +
			"lamp with a broken outer bulb or missing shield; no ladder for it: read at canopy height"
	}
	return ""
}
