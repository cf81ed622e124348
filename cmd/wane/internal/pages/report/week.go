package report

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"time"

	"wane/cmd/wane/internal/pages/chart"
	"wane/cmd/wane/internal/plans"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/plan"
	"wane/transform/todo"
)

// weekLine is one line of the front page: one thing to do.
type weekLine struct {
	Urgent     bool
	Over       bool   // does not fit on a printed page
	Again      bool   // of the same kind as the line before
	Sign, Head string // what it is about
	Do         string // what to do
	Who        []Cell // fixtures, linked
	More       int    // that are not named
	Why, Wait  string
	How        Cell // leads to how it is done
}

// mostLines is how many lines of a kind the front page holds, mostNames how many
// fixtures a line names.
const mostLines, mostNames = 14, 10

// heads names each kind, with the sign of its lamps' state.
var heads = [...]struct{ sign, words string }{
	todo.Order: {"■", "Order"}, todo.Dark: {"●", "Dark"}, todo.Under: {"▼", "Under its threshold"},
	todo.Due: {"◆", fmt.Sprintf("Due in %d days", todo.DueDays)}, todo.Question: {"≈", "Question"},
	todo.Silent: {"○", "Silent logger"}, todo.Missing: {"◷", "No answer yet"},
}

// week words the list of actions.
func (b *book) week() []weekLine {
	var out []weekLine
	if b.in.Result == nil {
		return b.reported(out)
	}
	var shown [todo.Nothing]int
	var more [todo.Nothing]int
	list := todo.List(b.todo)
	asked, measured := false, false
	for i := range list {
		a := &list[i]
		if a.Kind >= todo.Silent && !asked {
			asked, out = true, b.reported(out)
		}
		if a.Kind > todo.Silent && !measured {
			measured, out = true, b.toMeasure(out, list)
		}
		if shown[a.Kind]++; shown[a.Kind] > mostLines {
			more[a.Kind] += len(a.Fixtures)
			if i+1 == len(list) || list[i+1].Kind != a.Kind {
				out = append(out, weekLine{Sign: heads[a.Kind].sign, Head: heads[a.Kind].words,
					Do: fmt.Sprintf("%d more such lines, about %s: see the page of all lamps", shown[a.Kind]-mostLines,
						count(more[a.Kind], "lamp", "lamps"))})
			}
			continue
		}
		out = append(out, b.weekLine(a))
	}
	if !asked {
		out = b.reported(out)
	}
	if !measured {
		out = b.toMeasure(out, list)
	}
	repeated(out)
	return out
}

// repeated marks lines of the same kind as the one before.
func repeated(lines []weekLine) {
	for i := range lines {
		lines[i].Again = i > 0 && lines[i].Head == lines[i-1].Head
	}
}

// reported adds what the run and the plan found that is about no one lamp.
func (b *book) reported(out []weekLine) []weekLine {
	asked := map[string]bool{} // stands in the list already, by its lamp
	if b.in.Result != nil {
		for _, q := range b.in.Result.Questions {
			asked[q.String()] = true
		}
	}
	add := func(x Need) {
		l := weekLine{Sign: heads[todo.Question].sign, Head: "To settle", Do: sentence(x.Do), Why: sentence(x.What)}
		if !strings.Contains(x.Do, x.Where) {
			l.Who = []Cell{{Text: x.Where, Link: x.Link}}
		}
		out = append(out, l)
	}
	for _, x := range b.in.Needs {
		if !asked[x.What] {
			add(x)
		}
	}
	for _, x := range b.notes() {
		add(x)
	}
	if b.in.Plan != nil {
		for _, p := range b.in.Plan.Result.Problems {
			add(Need{Where: "plan." + p.Path, What: p.What, Do: p.Remedy, Link: "plan.html"})
		}
	}
	return out
}

func (b *book) weekLine(a *todo.Action) weekLine {
	l := weekLine{Urgent: a.Kind <= todo.Under, Sign: heads[a.Kind].sign, Head: heads[a.Kind].words}
	for _, id := range a.Fixtures[:min(len(a.Fixtures), mostNames)] {
		l.Who = append(l.Who, Cell{Text: id, Link: b.links[id]})
	}
	l.More = len(a.Fixtures) - len(l.Who)
	switch a.Kind {
	case todo.Order:
		l.Do, l.Why = b.orderWords(a.Order)
	case todo.Dark, todo.Under, todo.Due:
		l.Do, l.Why = b.lampWords(a)
	case todo.Question:
		l.Do, l.Why = sentence(a.Do), sentence(spoken(a.What))
		if a.Do == "" {
			l.Do = "Read it once against a reference meter, and log the reference."
		}
		if c := b.measureOf(a); c != nil && a.Lamps[0].Rival != forecast.RivalStep {
			if step := c.Settle(); step != a.Do {
				l.Do, l.Why = sentence(step), l.Why+" For these lamps alone: "+sentence(a.Do)
			}
			l.Why += " " + b.worthWords(c)
			l.How = howToMeasure
		}
	case todo.Silent:
		l.Do = fmt.Sprintf("Check sensor %s: its power, its wiring and whether its files arrive.", a.Sensor)
		l.Why = fmt.Sprintf("Nothing read for %s; its lamps are reckoned on from what was read before.",
			count(a.Days, "day", "days"))
		if a.Sensor == "" {
			l.Do = "See that sensors.csv names a sensor that watches it and that its files arrive."
		}
	case todo.Missing:
		l.Do, l.Why = b.missingWords(a), sentence(a.What)
	}
	if a.WaitKnown && a.WaitYear*7/365 >= 0.5 {
		l.Wait = spoken(fmt.Sprintf("The light lost is worth about %s a week.", plans.Money(b.currency(), a.WaitYear*7/365)))
	}
	return l
}

func (b *book) missingWords(a *todo.Action) string {
	if len(a.Lamps) > 0 && strings.Contains(a.Lamps[0].Reason, "one canopy survey") {
		return "Survey it again some months on: a second survey gives a bound, a third a date."
	}
	if len(a.Lamps) > 0 && a.Lamps[0].Status == "too-early" {
		return "Nothing yet: more run-hours are needed before a date can be given."
	}
	if b.unlogged() {
		return "Take a canopy survey of it (`wane survey sheet` prints one to carry), or name a sensor that watches it in " +
			"sensors.csv."
	}
	return "See that sensors.csv names a sensor that watches it and that its files arrive."
}

func (b *book) currency() string {
	if b.in.Plan == nil {
		return ""
	}
	return b.in.Plan.Result.Currency
}

// orderWords words an order: what, by when, what for.
func (b *book) orderWords(o *plan.Order) (do, why string) {
	do = fmt.Sprintf("Order %s by %s.", orderItem(o), planDay(o.OrderBy))
	if !o.OrderBy.After(b.todo.Today) {
		do = fmt.Sprintf("Order %s today.", orderItem(o))
	}
	why = "Needed by " + planDay(o.NeededBy)
	if o.Planned > 0 {
		why += fmt.Sprintf(", %d for planned work", o.Planned)
	}
	if o.Spares > 0 {
		why += ", " + count(o.Spares, "spare", "spares")
	}
	if o.Late {
		why += "; too late for the wanted day, because of its lead time"
	}
	return do, why + "."
}

// orderItem says what is ordered: "3 lamps, ceramic metal halide".
func orderItem(o *plan.Order) string {
	one, many := "lamp", "lamps"
	if o.Item == "gear" {
		one, many = "ballast or driver", "ballasts or drivers"
	}
	return count(o.Quantity, one, many) + ", " + lampType(fleet.LampType(o.LampType))
}

// lampWords words what is done about lamps of one room on one day, and why.
func (b *book) lampWords(a *todo.Action) (do, why string) {
	lamps := count(len(a.Lamps), "lamp", "lamps")
	switch a.Decision.Do {
	case plan.SpotRelamp, plan.GroupRelamp:
		do = "Replace " + lamps
	case plan.ReplaceGear:
		do = "Look at the ballast or driver of " + lamps
	case plan.Clean:
		do = "Clean " + lamps
	case plan.Keep:
		do = "Keep " + lamps + " for now"
	default:
		do = "Replace " + lamps + "; no plan says when"
	}
	if a.Room != "" {
		do += ", room " + a.Room
	}
	switch {
	case !a.Decision.On.IsZero():
		do += ", on " + planDay(a.Decision.On)
	case a.Decision.Do != "" && a.Decision.Do != plan.Keep:
		do += "; no open day yet"
	}
	var parts []string
	if a.Kind == todo.Dark {
		for _, l := range a.Lamps[:min(len(a.Lamps), mostNames)] {
			w := b.darkSince(l.Fixture)
			if len(a.Lamps) > 1 {
				w = l.Fixture + " " + w
			}
			parts = append(parts, w)
		}
	} else if w := levelsOf(a.Lamps); w != "" {
		parts = append(parts, w)
	}
	if a.Kind == todo.Due {
		parts = append(parts, dueSpan(a.Lamps))
	}
	if why := a.Decision.Why; why != "" {
		if !alike(a.Lamps) {
			why = a.Lamps[0].Fixture + ": " + why
		}
		parts = append(parts, why)
	}
	if why := b.byCost(a); why != "" {
		parts = append(parts, why)
	}
	if l := a.Lamps[0]; l.Plan != nil && len(l.Plan.Reasons) > 1 &&
		strings.HasPrefix(l.Plan.Reasons[1], "later than wanted") {
		parts = append(parts, l.Plan.Reasons[1])
	}
	return do + ".", sentence(spoken(strings.Join(parts, "; ")))
}

var isoDay = regexp.MustCompile(`\b\d{4}-\d\d-\d\d\b`)

// dated writes the days in the plan's reasons as the pages write days. It is not
// for words that hold a command.
func dated(s string) string {
	return isoDay.ReplaceAllStringFunc(s, func(d string) string {
		t, err := time.Parse(time.DateOnly, d)
		if err != nil {
			return d
		}
		return planDay(t)
	})
}

// firstWords say what comes first: orders, and the next visit.
func (b *book) firstWords() string {
	if b.in.Plan == nil {
		return ""
	}
	var parts []string
	orders := 0
	for _, a := range todo.List(b.todo) {
		if a.Kind == todo.Order {
			orders++
		}
	}
	if orders > 0 {
		parts = append(parts, count(orders, "order is", "orders are")+" to be placed")
	}
	if v := b.in.Plan.Result.Visits; len(v) > 0 {
		parts = append(parts, fmt.Sprintf("the next visit is on %s in room %s: %s", planDay(v[0].Date), v[0].Room,
			plans.Work(v[0])))
	}
	if len(parts) == 0 {
		return ""
	}
	return sentence(strings.Join(parts, "; ")) + " "
}

// byCost says of lamps at their threshold that are not replaced soon that cost is
// why; empty where it is not.
func (b *book) byCost(a *todo.Action) string {
	if a.Kind != todo.Under && a.Kind != todo.Due || b.in.Plan == nil || a.Decision.On.IsZero() ||
		!a.Decision.On.After(b.todo.Today.AddDate(0, 0, todo.DueDays)) {
		return ""
	}
	for i := range b.in.Plan.Result.Rooms {
		r := &b.in.Plan.Result.Rooms[i]
		if iv := r.Chosen(); r.Room == a.Room && iv.Known && b.byName[a.Lamps[0].Fixture].Life.HoursNow() < iv.Lo {
			return fmt.Sprintf("not sooner, since by cost the lamps of the room are best changed at %s, whatever the "+
				"threshold says", hoursBand(iv).said())
		}
	}
	return ""
}

// inMoney is an amount, whose currency keeps to its number.
var inMoney = regexp.MustCompile(`\b([A-Z]{3}) (\d)`)

var inType = regexp.MustCompile(`(^|[ (,;])(hps-de|hps-se|cmh|mh|led)($|[ ,;:.)])`)

// inHours is a number of run-hours without a comma between its thousands.
var inHours = regexp.MustCompile(`\b(\d+)(\d{3}) h\b`)

// spoken writes the days, the run-hours and the lamp types of words as the pages write
// them, and leaves commands between backquotes alone.
func spoken(s string) string {
	parts := strings.Split(s, "`")
	for i := range parts {
		if i%2 == 0 {
			parts[i] = spokenWords(parts[i])
		}
	}
	return strings.Join(parts, "`")
}

func spokenWords(s string) string {
	s = inHours.ReplaceAllString(s, "$1,$2\u00a0h")
	s = inMoney.ReplaceAllString(dated(s), "$1\u00a0$2")
	return inType.ReplaceAllStringFunc(s, func(m string) string {
		part := inType.FindStringSubmatch(m)
		return part[1] + lampType(fleet.LampType(part[2])) + part[3]
	})
}

func allSpoken(list []string) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = spoken(s)
	}
	return out
}

// alike says whether all lamps have the same first reason.
func alike(lamps []*todo.Lamp) bool {
	for _, l := range lamps {
		if l.Plan == nil || lamps[0].Plan == nil || len(l.Plan.Reasons) == 0 ||
			l.Plan.Reasons[0] != lamps[0].Plan.Reasons[0] {
			return l.Plan == nil && lamps[0].Plan == nil
		}
	}
	return true
}

// levelsOf writes the level of a lamp with its interval, or the span of several.
func levelsOf(lamps []*todo.Lamp) string {
	lo, hi, tlo, thi := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, l := range lamps {
		if l.Level.Known() {
			lo, hi = min(lo, l.Level.Centre), max(hi, l.Level.Centre)
			tlo, thi = min(tlo, l.Threshold), max(thi, l.Threshold)
		}
	}
	switch {
	case lo > hi:
		return ""
	case len(lamps) == 1:
		return fmt.Sprintf("level %s, threshold %s", Level(lamps[0].Level), chart.Number(lamps[0].Threshold, 2))
	}
	return "levels " + span(chart.Number(lo, 2), chart.Number(hi, 2)) + ", threshold " + span(chart.Number(tlo, 2),
		chart.Number(thi, 2))
}

// span writes a range, or the one value where its ends read alike.
func span(lo, hi string) string {
	if lo == hi {
		return lo
	}
	return lo + " to " + hi
}

// dueSpan says when lamps fall due.
func dueSpan(lamps []*todo.Lamp) string {
	if len(lamps) == 1 {
		return "due " + DateOf(lamps[0].DueDay).String()
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, l := range lamps {
		lo, hi = min(lo, l.DueDay.Centre), max(hi, l.DueDay.Centre)
	}
	return "due " + span(date(int32(math.Round(lo))), date(int32(math.Round(hi))))
}

// fleetWords says in a sentence how all lamps stand; what is not known comes first.
func fleetWords(in todo.Input) string {
	by := todo.Count(in)
	n := len(in.Lamps)
	unknown := by[todo.Missing] + by[todo.Question]
	if unknown == n {
		return fmt.Sprintf("No lamp can be answered for yet: of %s, %s. What is missing stands below; it does not mean "+
			"that all is well.", count(n, "lamp", "lamps"), missingParts(in, by))
	}
	s := fmt.Sprintf("Of %s in service, %d %s dark, %d %s under the threshold and %d fall%s due within %d days; for %d "+
		"nothing need be done in that time.",
		count(n, "lamp", "lamps"), by[todo.Dark], is(by[todo.Dark]), by[todo.Under], is(by[todo.Under]), by[todo.Due],
		map[bool]string{true: "s"}[by[todo.Due] == 1], todo.DueDays, by[todo.Nothing])
	if unknown > 0 {
		s = fmt.Sprintf("For %d no date can be given: %s. ", unknown, missingParts(in, by)) + s
	}
	return s
}

func missingParts(in todo.Input, by [todo.Nothing + 1]int) string {
	var parts []string
	if k := by[todo.Missing]; k > 0 {
		parts = append(parts, fmt.Sprintf("%d lack%s readings, surveys or run-hours", k, map[bool]string{true: "s"}[k == 1]))
	}
	if k := by[todo.Question]; k > 0 {
		parts = append(parts, fmt.Sprintf("the ageing of %d cannot be told from %s", k, todo.Rivals(in)))
	}
	return strings.Join(parts, ", ")
}

func is(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// What a printed page (A4 or Letter) holds of the list, in lines of writing, and the
// letters of such a line; on the safe side, since nobody knows the reader's font.
const printedLines, printedLetters = 47, 84

// overPage marks the lines that do not fit on a printed page: the last, which are
// of the least weight.
func overPage(lines []weekLine) (over int) {
	used := 0.0
	for i := range lines {
		l := &lines[i]
		used += 0.6 // the space around it
		who := 0
		for _, c := range l.Who {
			who += len([]rune(c.Text)) + 2
		}
		for _, n := range []int{len([]rune(l.Do)), who, len([]rune(l.Why)) + len([]rune(l.Wait)) + 1} {
			if n > 1 {
				used += math.Ceil(float64(n) / printedLetters)
			}
		}
		if l.Over = used > printedLines; l.Over {
			over++
		}
	}
	return over
}

// Class names what the style of a line depends on.
func (l weekLine) Class() string {
	var out []string
	if l.Urgent {
		out = append(out, "urgent")
	}
	if l.Over {
		out = append(out, "over")
	}
	if l.Again {
		out = append(out, "again")
	}
	return strings.Join(out, " ")
}
