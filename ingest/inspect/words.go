package inspect

import (
	"regexp"
	"slices"
	"strings"

	"wane/ingest/source"
)

// quantity is what a name or unit points to.
type quantity struct {
	id    string // as in register/sensors.csv; "" for unknown
	units []string
	words []string
}

// quantities are looked for in this order; words are whole words of a name in
// lower case, or, with a *, beginnings of words.
var quantities = []quantity{
	{"ppfd", []string{"umol/m2/s"}, []string{"ppfd", "par", "quantum", "photon*"}},
	{"run_hours", []string{"h"}, []string{"hours", "hour", "runtime", "run_hours", "burn*", "betriebsstunden", "stunden",
		"hourmeter", "hour meter", "branduren"}},
	{"energy_kwh", []string{"kwh"}, []string{"energy", "kwh", "energie"}},
	{"supply_v", []string{"v"}, []string{"volt*", "supply", "supply_v", "mains", "spannung", "spanning", "tension"}},
	{"current_a", []string{"a"}, []string{"amp", "amps", "amper*", "current", "current_a", "strom", "stroom"}},
	{"power_w", []string{"w"}, []string{"power", "watt*", "leistung", "vermogen", "puissance"}},
	{"rh_pct", []string{"%"}, []string{"rh", "humid*", "feuchte*", "vocht*", "rf"}},
	{"dim_pct", []string{"%"}, []string{"dim", "dimm*", "level_set"}},
	{"ambient_c", []string{"c"}, []string{"temp*", "air*", "ambient*", "luft*"}},
}

// lightWords name light that is not measured as photons.
var lightWords = []string{"light*", "licht*", "illumin*", "lux", "irradian*"}

// factorAsked is what light in another unit needs.
const factorAsked = "register/sensors.csv needs the factor that turns it into umol/m2/s for this lamp type and " +
	"sensor; levels need it constant, not exact"

// relativeLight are the units of light that are not those of photons.
var relativeLight = []string{"lx", "klx", "fc", "w/m2"}

// otherUnits belong to quantities that wane does not take as they are.
var otherUnits = map[string]string{
	"lx":   "illuminance, taken as relative light: " + factorAsked,
	"klx":  "illuminance, taken as relative light: " + factorAsked,
	"fc":   "illuminance, taken as relative light: " + factorAsked,
	"w/m2": "irradiance, taken as relative light: " + factorAsked,
	"f":    "Fahrenheit: the register takes degrees Celsius",
	"mv":   "millivolts: a factor of 0.001 in the register turns them into V",
	"kw":   "kilowatts: a factor of 1000 in the register turns them into W",
	"wh":   "watt-hours: a factor of 0.001 in the register turns them into kWh",
	"ma":   "milliamperes: a factor of 0.001 in the register turns them into A",
}

// multiples are what units measure that are not the register's.
var multiples = map[string]string{"f": "ambient_c", "mv": "supply_v", "kw": "power_w", "wh": "energy_kwh", "ma": "current_a"}

var wordSplit = regexp.MustCompile(`[^\p{L}]+`)

// humps parts words that are written without a mark between them, as in QualityDetail and
// fPort; kWh and mV are one word.
var humps = regexp.MustCompile(`(\p{Ll}{2})(\p{Lu}\p{Ll})|(\p{Ll})(\p{Lu}\p{Ll}{2})`)

// wordsOf gives the words of a name in lower case, and those that are parted by a capital
// letter whole besides.
func wordsOf(name string) []string {
	whole := wordSplit.Split(strings.ToLower(name), -1)
	if parted := humps.ReplaceAllString(name, "$1$3 $2$4"); parted != name {
		return append(whole, wordSplit.Split(strings.ToLower(parted), -1)...)
	}
	return whole
}

func hasWord(name string, words []string) bool {
	have := wordsOf(name)
	return slices.ContainsFunc(words, func(w string) bool {
		return strings.EqualFold(name, w) || slices.ContainsFunc(have, func(h string) bool { return within(h, w) >= 0 })
	})
}

// quantityOf guesses from a name alone: of several words the last tells what the others are of, as in humidity sensor
// temperature and Luftfeuchte.
func quantityOf(name string) quantity { return quantityWith(name, "") }

// wattHours are no hours.
var wattHours = regexp.MustCompile(`(?i)\b(?:kilo|mega)?watt[ -]?(?:hours?|stunden?)\b`)

// quantityWith is quantityOf among those that have a unit; with none among all.
func quantityWith(name, unit string) (best quantity) {
	last := -1
	name = wattHours.ReplaceAllString(name, "energy")
	for i, have := range wordsOf(name) {
		for _, q := range quantities {
			if unit != "" && !slices.Contains(q.units, unit) {
				continue
			}
			for _, w := range q.words {
				if at := within(have, w); at >= 0 && 100*i+at > last {
					best, last = q, 100*i+at
				} else if strings.EqualFold(name, w) {
					return q
				}
			}
		}
	}
	return best
}

// within tells where in a word another one stands, -1 where it does not; with a * it may be a beginning or an end.
func within(have, word string) int {
	stem, part := strings.CutSuffix(word, "*")
	switch {
	case have == stem, part && strings.HasPrefix(have, stem):
		return 0
	case part && len(stem) > 3 && strings.HasSuffix(have, stem):
		return len(have) - len(stem)
	}
	return -1
}

// quantityByUnit guesses from a canonical unit alone; % fits two, so none.
func quantityByUnit(unit string) quantity {
	if unit == "%" {
		return quantity{}
	}
	for _, q := range quantities {
		if slices.Contains(q.units, unit) {
			return q
		}
	}
	return quantity{}
}

// timeWords are words that head a column of times.
var timeWords = []string{
	"time*", "date*", "stamp", "ts", "tmstamp", "clock", "hrmin", "hhmm", "day", "yr", "year", "hour", "jd", "moment*",
	"period*", "interval*", "datetime", "epoch*", "unix*",
	"last_changed", "last_updated", "recorded*", "measured*", "observ*", "created*", "zeit*", "datum", "uhrzeit", "heure",
	"horodat*", "jour", "tijd*",
	"fecha", "hora", "data", "ora", "orario", "giorno", "dato", "tid", "tidspunkt", "dag", "cas", "čas", "czas", "godzina",
	"aika", "日期", "时间", "時間", "日時",
}

func isTimeWord(name string) bool { return hasWord(name, timeWords) }

// roles of columns that are no values, by name.
var roles = []struct {
	role  string
	words []string
}{
	{"sensor", []string{"sensor*", "logger", "fixture", "device*", "station", "probe", "node", "lamp", "entity*", "host",
		"hostname", "room", "bay", "location", "place", "site", "topic", "meter", "tag", "tags",
		"zone", "area", "hall", "compartment", "phase"}},
	{"channel", []string{"channel", "kanal", "kanaal", "canal", "messgröße", "grootheid", "parameter", "variable",
		"quantity", "measure*", "_measurement", "signal", "field", "_field", "metric*", "item", "attribute", "point", "key",
		"series"}},
	{"flag", []string{"status", "flag", "flags", "quality", "qualit*", "qc", "qa", "qn", "state", "err", "error*", "fault*", "alarm*", "warn*"}},
	{"record number", []string{"rec", "recno", "record", "rn", "no", "nr", "index", "#"}},
	{"value", []string{"value", "_value", "values", "reading", "wert", "waarde", "valeur", "valor", "valore", "result"}},
	{"id", []string{"latitude", "longitude", "lat", "lon", "lng"}},
	{"text", []string{"note", "remark", "comment", "event"}},
}

func roleOf(name string) string {
	if strings.TrimSpace(name) == "#" {
		return "record number"
	}
	if hasWord(name, []string{"unit", "units"}) {
		return "text"
	}
	for _, r := range roles {
		if hasWord(name, r.words) {
			return r.role
		}
	}
	return ""
}

// goodFlags are statuses that usually mark a sound value.
var goodFlags = []string{"", "ok", "good", "valid", "g", "a", "0", "true", "normal"}

// missingTexts and missingNumbers are codes in use for "no value".
var (
	missingTexts = []string{"nan", "null", "na", "n/a", "-", "--", "---", "#n/a", "none", "nil", "err", "error", "inf",
		"-inf", "ol", "no data", "*****",
		"unavailable", "unknown", "offline", "fault", "n.a.", "nodata", "missing", "#value!", "#ref!", "#div/0!", "undefined",
		`\n`, "nd", "n/d", "k.a.", "?", "void"}
	missingNumbers = []string{"-9999", "-999", "-99999", "-999.9", "-99.99", "7999", "-7999", "6999", "9999", "99999",
		"65535", "6553.5", "32767", "-32768", "-3276.8"}
)

// written gives a canonical unit as it is usually printed.
func written(unit string) string {
	if w, ok := map[string]string{"v": "V", "a": "A", "w": "W", "kwh": "kWh", "c": "degC", "f": "degF", "mv": "mV",
		"ma": "mA", "kw": "kW", "wh": "Wh", "w/m2": "W/m2"}[unit]; ok {
		return w
	}
	return unit
}

var bracketUnit = regexp.MustCompile(`^(.*?)\s*[\(\[]([^\)\]]+)[\)\]]\s*$`)
var perUnit = regexp.MustCompile(`(?i)[\s_](per|pro|par|por)[\s_]`) // pulses per kWh are no energy
var commaUnit = regexp.MustCompile(`^(.*),\s*([^,]+)$`)

// unitIn finds a known unit at the end of a name: "PAR (lx)", "PAR [lx]",
// "PAR, lx", "supply_v"; or as the whole name: "lux". A remark in brackets may follow.
func unitIn(name string) (bare, unit string) {
	if m := bracketUnit.FindStringSubmatch(name); m != nil && m[1] != "" {
		if _, known := source.CanonicalUnit(m[2]); !known {
			if bare, unit := unitIn(m[1]); unit != "" {
				return bare, unit
			}
		}
	}
	for _, re := range []*regexp.Regexp{bracketUnit, commaUnit} {
		if m := re.FindStringSubmatch(name); m != nil {
			if u, ok := source.CanonicalUnit(m[2]); ok {
				return m[1], u
			}
		}
	}
	if at := perUnit.FindStringIndex(name); at != nil {
		return name[:at[0]], ""
	}
	for i, mark := range name { // temp_f, ppfd_umol_m2_s, Air °C, but not E_v or a channel C
		if u, ok := source.CanonicalUnit(strings.ReplaceAll(name[i+len(string(mark)):], "_", "/")); ok && i > 0 {
			q := quantityOf(name[:i])
			own := slices.Contains(q.units, u) || q.id == "ambient_c" && u == "f"
			if (mark == '_' && i > 1 || mark == ' ' && (len(name)-i > 2 || u == "%" || own)) &&
				(u != "h" || own || q.id == "") { // std is a deviation, too
				return name[:i], u
			}
		}
	}
	if u, ok := source.CanonicalUnit(name); ok && (len(name) > 1 || name == "V" ||
		name == "W") { // other letters may count channels
		return name, u
	}
	return name, ""
}

var notSlug = regexp.MustCompile(`[^a-z0-9]+`)

// slug makes a plain word of a name.
func slug(name string) string {
	r := strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "ß", "ss", "é", "e", "è", "e", "µ", "u", "°", "")
	return strings.Trim(notSlug.ReplaceAllString(r.Replace(strings.ToLower(name)), "_"), "_")
}
