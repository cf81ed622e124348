package inspect

import (
	"regexp"
	"slices"
	"strings"

	"wane/ingest/source"
)

// unitCell is a number with a unit behind it.
var unitCell = regexp.MustCompile(`^([+-]?\d[\d.,' \x{a0}\x{202f}]*)` +
	`([^\d\s.,'+:/;|-][^\d;|]{0,11}|[^\d\s.,'+:/;|-][^\s;|]{0,11})$`)

// findCellUnits finds units that stand in the cells: nearly all cells of a column
// that begin with a digit end with one of few.
func (t *table) findCellUnits() {
	for c := range t.width {
		count := map[string]int{}
		filled, with := 0, 0
		for _, r := range t.recs {
			if len(r.cells) != t.width || r.cells[c] == "" || !strings.ContainsAny(r.cells[c][:1], "+-0123456789") {
				continue
			}
			filled++
			if m := unitCell.FindStringSubmatch(r.cells[c]); m != nil && len(shapesOf(r.cells[c], true)) == 0 &&
				!clockOnly.MatchString(r.cells[c]) {
				with++
				count[strings.TrimSpace(m[2])]++
			}
		}
		if with < 2 || 10*with < 8*filled || len(count) > 3 {
			continue
		}
		for _, u := range sortedKeys(count) {
			if _, known := source.CanonicalUnit(u); (known || 2*count[u] > with) && !slices.Contains(t.cellUnits, u) {
				t.cellUnits = append(t.cellUnits, u)
			}
		}
	}
	// The longer one first: "kWh" ends with "Wh".
	slices.SortStableFunc(t.cellUnits, func(a, b string) int { return len(b) - len(a) })
	if len(t.cellUnits) > 0 {
		t.report.add(Finding{"units in cells", strings.Join(t.cellUnits, ", "), Certain,
			"they stand behind the numbers and are taken off"})
	}
}

// withoutUnit takes a known unit off a number.
func (t *table) withoutUnit(cell string) string {
	for _, u := range t.cellUnits {
		if bare, ok := strings.CutSuffix(cell, u); ok && bare != "" &&
			(isDigit(bare[len(bare)-1]) || strings.HasSuffix(bare, " ")) {
			return strings.TrimSpace(bare)
		}
	}
	return cell
}

// unitInCells is the unit of a column whose cells all state one, "" where they
// state none or several.
func (t *table) unitInCells(c int) (unit string) {
	for r := range t.rows() {
		cell := r.cell(c)
		bare := t.withoutUnit(cell)
		if bare == cell {
			continue
		}
		u := strings.TrimSpace(cell[len(bare):])
		if unit != "" && unit != u {
			return ""
		}
		unit = u
	}
	return unit
}
