package register

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wane/ingest/problem"
	"wane/transform/fleet"
)

// scopesOf says what each kind of entry can speak of.
var scopesOf = map[fleet.What][]fleet.Scope{
	fleet.Install:     {fleet.OfFixture},
	fleet.Retire:      {fleet.OfFixture, fleet.OfBay, fleet.OfRoom},
	fleet.Move:        {fleet.OfFixture},
	fleet.Relamp:      {fleet.OfFixture, fleet.OfBay, fleet.OfCircuit, fleet.OfRoom, fleet.OfSite},
	fleet.Fail:        {fleet.OfFixture},
	fleet.Clean:       {fleet.OfFixture, fleet.OfBay, fleet.OfCircuit, fleet.OfRoom, fleet.OfSite, fleet.OfSensor},
	fleet.Recalibrate: {fleet.OfSensor},
	fleet.ReferenceIs: {fleet.OfFixture, fleet.OfSensor},
	fleet.Dim:         {fleet.OfFixture, fleet.OfBay, fleet.OfCircuit, fleet.OfRoom, fleet.OfSite},
	fleet.Regear:      {fleet.OfFixture, fleet.OfBay, fleet.OfCircuit, fleet.OfRoom},
	fleet.Outage:      {fleet.OfFixture, fleet.OfBay, fleet.OfCircuit, fleet.OfRoom, fleet.OfSite},
	fleet.HoursRead:   {fleet.OfFixture, fleet.OfBay, fleet.OfCircuit, fleet.OfRoom},
	fleet.Note:        fleet.Scopes,
}

// cleanable is what a clean entry can have taken the dirt off.
var cleanable = []string{"lamp", "reflector", "sensor", "all"}

func parseLogbook(r *fleet.Register, n *names, t *table, loc *time.Location) problem.List {
	for _, w := range t.rows {
		e := fleet.Entry{
			What:  oneOf(w, "what", fleet.Whats, false),
			Scope: oneOf(w, "scope", fleet.Scopes, false),
			ID:    w.get("id"), Value: w.get("value"), Note: w.get("note"), Line: w.line,
		}
		if w.need("at") != "" {
			e.At = w.moment("at", loc)
		}
		if e.What == "" || e.Scope == "" {
			continue
		}
		if !slices.Contains(scopesOf[e.What], e.Scope) {
			w.bad("scope", fmt.Sprintf("a %s entry cannot speak of a %s", e.What, e.Scope),
				fmt.Sprintf("use one of %v", scopesOf[e.What]))
			continue
		}
		checkID(w, n, &e)
		checkValue(w, n, &e, loc)
		r.Logbook = append(r.Logbook, e)
	}
	return t.found
}

func checkID(w row, n *names, e *fleet.Entry) {
	if e.Scope == fleet.OfSite {
		return
	}
	if e.ID == "" {
		w.bad("id", "is empty", fmt.Sprintf("name the %s", e.Scope))
		return
	}
	if !n.has[e.Scope][e.ID] {
		do := fmt.Sprintf("name a %s of the register", e.Scope)
		if near := problem.Nearest(e.ID, n.known[e.Scope]); near != "" {
			do = fmt.Sprintf("did you mean %q?", near)
		}
		w.bad("id", fmt.Sprintf("the register has no %s %q", e.Scope, e.ID), do)
	}
}

func checkValue(w row, n *names, e *fleet.Entry, loc *time.Location) {
	switch e.What {
	case fleet.Recalibrate:
		e.Number = w.number("value", 0, 0.2, 5, "the as-found gain such as 0.985 (true = reading / as-found), or leave it empty where it was not noted")
	case fleet.ReferenceIs:
		if w.need("value") != "" {
			e.Number = w.number("value", 0, 1e-3, 10_000, "a level such as 0.93 or a PPFD in umol/m2/s")
		}
	case fleet.HoursRead:
		if w.need("value") != "" {
			e.Number = w.number("value", 0, 0, 1e6, "the run-hours that the meter or the diary shows")
		}
	case fleet.Dim:
		if w.need("value") != "" {
			e.Number = w.number("value", 100, 0, 100, "per cent of full power")
		}
	case fleet.Clean:
		if i := slices.IndexFunc(cleanable, func(c string) bool { return strings.EqualFold(c, e.Value) }); i >= 0 {
			e.Value = cleanable[i]
		} else {
			w.bad("value", fmt.Sprintf("%q is not what can be cleaned", e.Value), "write lamp, reflector, sensor or all")
		}
	case fleet.Outage:
		if w.need("value") != "" {
			e.Until = w.moment("value", loc)
			if !e.Until.IsZero() && !e.Until.After(e.At) {
				w.bad("value", "the outage ends before it begins", "write the date on which power was back")
			}
		}
	case fleet.Move:
		if w.need("value") != "" && !n.has[fleet.OfBay][e.Value] {
			do := "name a bay of register/fixtures.csv"
			if near := problem.Nearest(e.Value, n.known[fleet.OfBay]); near != "" {
				do = fmt.Sprintf("did you mean %q?", near)
			}
			w.bad("value", fmt.Sprintf("there is no bay %q", e.Value), do)
		}
	}
}
