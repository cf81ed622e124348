package inspect

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"wane/ingest/source"
)

// A series is called by a quantity of the register only where name, unit and numbers all say so and nothing says more.
// Else it is stored under the column's own name: the volts of a battery are no supply's, the greatest of an hour's PPFD is
// not what the lamp gave, kWh that fall are no meter's.

// plainWords say where and how something was measured, and not that it is something else.
var plainWords = strings.Fields("mean avg average measured meas* actual act ist is gem* mittel* medi* value val reading wert in " +
	"input ac counter meter* index reg zähler* stand line phase canopy light licht bench house row rack " +
	"shelf table gh level luft lucht raum air rel*")

// sumWords say of a meter that it counts all there is.
var sumWords = []string{"tot", "total", "gesamt", "totaal", "sum"}

func (q quantity) counts() bool { return q.id == "run_hours" || q.id == "energy_kwh" }

// says tells whether a word is one of the quantity's, and of nothing else's: Bodenfeuchte is no humidity of the air.
func (q quantity) says(word string) bool {
	return slices.ContainsFunc(q.words, func(w string) bool {
		at := within(word, w)
		return at == 0 || at > 0 && (hasWord(word[:at], plainWords) || q.says(word[:at]))
	})
}

// symbols are the letters that formulas have for a quantity.
var symbols = map[string]string{"supply_v": "uv", "current_a": "i", "power_w": "p", "energy_kwh": "ew", "ambient_c": "t",
	"ppfd": "q", "light": "e"}

// leastSupply is what no supply of lamps stays below, in volts: 100 V is the lowest in use (common practice, no source).
const leastSupply = 80

// calledSo gives the quantity by whose name a column is stored, "" where its own name is truer, with the reason.
func (t *table) calledSo(c int) (id, why string) {
	col, s := t.columns[c], t.statsOf(c)
	bare, _ := unitIn(col.Name)
	q, unit := quantity{}, unitKey(col.Unit)
	if at := slices.IndexFunc(quantities, func(q quantity) bool { return q.id == col.Quantity }); at >= 0 {
		q = quantities[at]
	}
	if col.light {
		q = quantity{"light", relativeLight, slices.Concat(lightWords, q.words)}
	}
	if q.id == "" || slug(bare) == "" {
		return q.id, ""
	}
	switch more := q.beyond(bare); {
	case unit != "" && !slices.Contains(q.units, unit), unit == "" && t.ofOtherUnit(c):
		return "", "its unit is another one"
	case q.id == "energy_kwh" && t.falls(c):
		return "", "its numbers fall, and those of a meter do not"
	case q.id == "supply_v" && s.numbers > 0 && s.max < leastSupply, possible[q.id][1] > 0 && s.max > possible[q.id][1]:
		return "", trimFloat(s.max) + " is none of it"
	case t.nameCount[col.Name] > 1:
		return "", "other columns have its name, too"
	case more != "":
		return "", fmt.Sprintf("it says more than %s: %s", q.id, more)
	}
	return q.id, ""
}

// channelOf names the series of a column: by its quantity, or by its own name.
func (t *table) channelOf(c int) string {
	col := &t.columns[c]
	bare, _ := unitIn(col.Name)
	id, why := t.calledSo(c)
	if why != "" {
		col.Evidence += "; called by its own name: " + why
		if col.Sure == Certain {
			col.Sure = Likely
		}
		if q := quantityOf(bare); col.Unit == "" && !q.counts() && q.beyond(bare) != "" {
			col.Quantity, col.Sure = "", Asked
		}
	}
	if id != "" && !strings.ContainsAny(bare, "0123456789") {
		return id
	}
	return ownName(bare, col.Position)
}

// ofOtherUnit tells whether brackets behind a column's name, or the line of units, hold what looks like a unit.
func (t *table) ofOtherUnit(c int) bool {
	unit := t.units()[c]
	if m := bracketUnit.FindStringSubmatch(t.columns[c].Name); m != nil {
		unit = m[2]
	}
	return unitLike.MatchString(unit) && !hasWord(unit, noUnits) // whether hours are counted in minutes is asked
}

var unitLike = regexp.MustCompile(`^[\pL°]{1,4}[²³]?$|\pL.*[/·^]`)

// ownName makes a channel's name of a column's.
func ownName(bare string, position int) string {
	if s := slug(bare); s != "" {
		return s
	}
	return fmt.Sprintf("column_%d", position)
}

// beyond gives the first word of a name that says more than the quantity.
func (q quantity) beyond(name string) string {
	byName := hasWord(name, q.words)
	for _, w := range wordSplit.Split(strings.ToLower(name), -1) {
		if u, ok := source.CanonicalUnit(w); ok && slices.Contains(q.units, u) {
			continue
		}
		letter := len(w) < 2 && (byName || strings.Contains(symbols[q.id], w))
		if !letter && !q.says(w) && !hasWord(w, plainWords) && roleOf(w) != "sensor" && !(q.counts() && hasWord(w, sumWords)) {
			return w
		}
	}
	return ""
}
