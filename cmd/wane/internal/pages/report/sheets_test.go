package report

import (
	"strings"
	"testing"

	"wane/transform/plan"
)

// A fixture that hangs in no bay keeps its name where people take the work along,
// and cleaning is of the whole room.
func TestWorkListsNameFixturesWithoutABay(t *testing.T) {
	v := plan.Visit{Room: "F1", Work: []plan.WorkItem{{Fixture: "X1", Do: plan.SpotRelamp, Why: "dark"},
		{Fixture: "X2", Do: plan.SpotRelamp, Why: "dark"}, {Fixture: "all", Do: plan.Clean, Why: "dirt"}}}
	w := sheetOf(v).Work
	if len(w) != 2 || len(w[0].Places) != 2 || w[0].Places[1].Fixture != "X2" ||
		w[1].Places[0].Fixture != "the whole room" {
		t.Errorf("the sheet has %+v", w)
	}
	p := planBook{book: newBook(Input{}), r: &plan.Result{Visits: []plan.Visit{v}}}
	rows := p.visits().Rows
	if got := rows[1].Cells[2].Text; got != "X1, X2" {
		t.Errorf("the plan's page names %q", got)
	}
	if last := rows[len(rows)-1].Cells; last[0].Text != "whole room" || strings.Contains(last[2].Text, "all") {
		t.Errorf("cleaning is of %+v", last)
	}
}
