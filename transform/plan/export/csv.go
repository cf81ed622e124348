package export

import (
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"time"

	"wane/transform/plan"
)

// Lamps is the plan as a table, one row a lamp. A number or day that is not
// known is an empty cell.
func Lamps(r plan.Result) string {
	t := newTable("fixture", "lamp_life", "room", "bay", "lamp_type", "decision", "date", "preferred", "earliest",
		"latest", "due_at_risk",
		"cost", "currency", "interval_hours", "interval_lo", "interval_hi", "chance_under", "light_lost_mol_year",
		"loss_year", "loss_year_lo", "loss_year_hi",
		"efficacy_umol_j", "kwh_mol", "reason")
	for _, l := range r.Lamps {
		hours, lo, hi, chance := "", "", "", ""
		if l.Interval.Known {
			hours, lo = number(l.Interval.Hours), number(l.Interval.Lo)
			if !l.Interval.HiOpen {
				hi = number(l.Interval.Hi)
			}
		}
		if l.ChanceKnown {
			chance = number(l.ChanceUnder)
		}
		t.row(l.Fixture, strconv.Itoa(l.Life), l.Room, l.Bay, l.LampType, string(l.Decision), date(l.Date), date(l.Preferred),
			date(l.Earliest), date(l.Latest), date(l.DueAtRisk),
			number(l.Cost), r.Currency, hours, lo, hi, chance, known(l.LightLostMolYear), number(l.LossPerYear.Centre),
			number(l.LossPerYear.Lo), number(l.LossPerYear.Hi),
			known(l.Efficacy), known(l.EnergyPerMol), strings.Join(l.Reasons, "; "))
	}
	return t.text()
}

// Orders is the order list as a table.
func Orders(r plan.Result) string {
	t := newTable("order_by", "needed_by", "item", "lamp_type", "quantity", "planned", "spares", "from_stock", "cost",
		"currency", "late", "note")
	for _, o := range r.Orders {
		t.row(date(o.OrderBy), date(o.NeededBy), o.Item, o.LampType, strconv.Itoa(o.Quantity), strconv.Itoa(o.Planned),
			strconv.Itoa(o.Spares), strconv.Itoa(o.FromStock),
			number(o.Cost), r.Currency, strconv.FormatBool(o.Late), strings.Join(o.Notes, "; "))
	}
	return t.text()
}

// Work is the work list as a table, in order of day, room, bay and fixture.
func Work(r plan.Result) string {
	t := newTable("date", "room", "bay", "fixture", "lamp_life", "lamp_type", "do", "cost", "currency", "why")
	for _, v := range r.Visits {
		for _, w := range v.Work {
			life := ""
			if w.Life > 0 {
				life = strconv.Itoa(w.Life)
			}
			t.row(date(v.Date), v.Room, w.Bay, w.Fixture, life, w.LampType, string(w.Do), number(w.Cost), r.Currency, w.Why)
		}
	}
	return t.text()
}

type table struct {
	b strings.Builder
	w *csv.Writer
}

func newTable(header ...string) *table {
	t := &table{}
	t.w = csv.NewWriter(&t.b)
	t.row(header...)
	return t
}

func (t *table) row(cells ...string) {
	for i, c := range cells {
		cells[i] = Plain(c)
	}
	// A strings.Builder never fails.
	_ = t.w.Write(cells)
}

func (t *table) text() string {
	t.w.Flush()
	return t.b.String()
}

// Plain gives a cell that no spreadsheet takes for a formula: text that begins
// with = + - @ or a control character gets a leading apostrophe. Plain numbers
// stay as they are.
func Plain(cell string) string {
	if cell == "" || !strings.ContainsRune("=+-@\t\r\n|", rune(cell[0])) {
		return cell
	}
	if _, err := strconv.ParseFloat(cell, 64); err == nil && strings.Trim(cell, "0123456789.eE+-") == "" {
		return cell
	}
	return "'" + cell
}

func date(d time.Time) string {
	if d.IsZero() {
		return ""
	}
	return d.Format(time.DateOnly)
}

// number is empty for what is not known or not bounded.
func number(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	return strconv.FormatFloat(math.Round(x*1e4)/1e4, 'f', -1, 64)
}

// known is number, with 0 for not known.
func known(x float64) string {
	if x == 0 {
		return ""
	}
	return number(x)
}
