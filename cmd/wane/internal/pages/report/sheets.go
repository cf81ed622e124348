package report

import (
	"fmt"
	"strings"

	"wane/cmd/wane/internal/plans"
	"wane/transform/fleet"
	"wane/transform/plan"
)

// sheetsFile is the page that is printed and carried.
const sheetsFile = "visits.html"

// sheets is the work list to carry: a sheet of paper a visit, with boxes to tick.
type sheets struct {
	Visits   []sheet
	Left     int // visits that are not on the page of a great site
	Cautions []string
	File     string // where all of the work is
}

// sheet is one visit.
type sheet struct {
	Title string
	Notes []string
	Work  []sheetWork
	Old   int // lamps to hand over
}

// sheetWork is work of one kind for one reason, a box for each fixture.
type sheetWork struct {
	Do, LampType, Why string
	Places            []sheetPlace
}

type sheetPlace struct{ Fixture, Bay string }

// wholeRoom is how the plan names work that is about no one fixture.
const wholeRoom = "all"

func sheetsOf(b *book) (any, bool) {
	if b.in.Plan == nil || len(b.in.Plan.Result.Visits) == 0 {
		return nil, false
	}
	r := &b.in.Plan.Result
	s := sheets{Cautions: r.Cautions, File: plans.WorkFile}
	for i, v := range r.Visits {
		if b.brief && i == mostVisits {
			s.Left = len(r.Visits) - i
			break
		}
		s.Visits = append(s.Visits, sheetOf(v))
	}
	return s, true
}

func sheetOf(v plan.Visit) sheet {
	out := sheet{Title: fmt.Sprintf("%s, room %s: %s", planDay(v.Date), v.Room, plans.Work(v)), Old: v.Disposal}
	for _, n := range v.Notes {
		out.Notes = append(out.Notes, sentence(spoken(n)))
	}
	for _, g := range plans.Together(v) {
		w := sheetWork{Do: sentence(strings.TrimSuffix(g.Do, ".")), Why: sentence(spoken(g.Why))}
		if g.LampType != "" {
			w.LampType = lampType(fleet.LampType(g.LampType))
		}
		for _, bay := range g.Bays {
			for _, f := range bay.Fixtures {
				if f == wholeRoom && bay.Bay == "" {
					f = "the whole room"
				}
				w.Places = append(w.Places, sheetPlace{f, bay.Bay})
			}
		}
		out.Work = append(out.Work, w)
	}
	return out
}
