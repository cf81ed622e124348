package report

import "strings"

// glossary is the page of the words that the pages use.
type glossary struct {
	Terms  []term
	Legend []Status
}

// term is one word of the trade, or of ours, with what is meant by it.
type term struct {
	ID, Name, Meaning string
	also              []string // names under which facts and headings use it
}

// terms are as the trade and the standards use them (ANSI/ASABE S640 for light,
// IES LM-54 for seasoning); those that are ours say so.
var terms = []term{
	{"level", "Level", "A lamp's steady output on a day against what it gave itself after seasoning; 1.00 is all of " +
		"it. (Our word.)", []string{"Level", "Level of the lamp now", "Level as read", "1.00 as read", "Mean level"}},
	{"alone", "Lamp alone, light as it hangs", "The level without the dirt on the fixture, and with it: two numbers " +
		"that are never mixed. Cleaning brings the difference back. (Our words.)", nil},
	{"threshold", "Threshold", "The level, or the PPFD, under which a lamp is to be replaced; stated in site.yaml for " +
		"the site, a room or a lamp type.", []string{"Threshold"}},
	{"due", "Due", "The run-hours and the date at which a lamp's level falls under its threshold. (Our word.)",
		[]string{"Due", "Due at run-hours", "Under since about", "Next to fall due"}},
	{"interval", "Interval", "What stands in brackets. An 80 % interval is meant to hold the truth eight times in ten; " +
		"how often it did on this site stands on the page of how forecasts held.", nil},
	{"hours", "Run-hours", "Hours that the lamp has burned. An hour meter is believed where it was read; elsewhere the " +
		"time with light counts, or the room's usual hours.", []string{"Run-hours", "Run-hours now"}},
	{"seasoning", "Seasoning", "The first 100 burning hours of a discharge lamp, after which its 100 % is read (IES " +
		"LM-54). LEDs have none.", nil},
	{"life", "Lamp life", "One lamp in one fixture from when it was put in until it was taken out, counted 1, 2, 3 by " +
		"fixture. Ageing is the lamp's: a new lamp begins anew. (Our word.)", nil},
	{"cohort", "Cohort", "Lamps that are expected to age alike: of one type and one delivery.", []string{"Cohort"}},
	{"decline", "Decline", "Level against run-hours.", nil},
	{"maintenance", "Maintenance, Q90", "The share of the first photon flux that is left; Q90 is the run-hours by " +
		"which 90 % is left.", nil},
	{"ppfd", "PPFD", "Photosynthetic photon flux density: light that plants can use, falling on an area, µmol/m²/s " +
		"(ANSI/ASABE S640).", nil},
	{"ppf", "PPF and efficacy", "Photosynthetic photon flux, µmol/s: all such light that a fixture gives, and how much " +
		"of it for each joule of electricity, µmol/J.", []string{"Efficacy"}},
	{"dli", "DLI", "Daily light integral, mol/m²/d: PPFD added up over a day.", nil},
	{"survey", "Canopy survey", "PPFD read on a fixed grid at a fixed height and full power. It reads lamp and " +
		"dirt together.", nil},
	{"uniformity", "Uniformity, min/avg", "The dimmest spot of a survey over the average of all: 1 is even light.", nil},
	{"reference", "Reference fixture", "A fixture that burns for surveys only, so that it does not age: what it seems " +
		"to gain or lose is the meter's and the rig's doing.", nil},
	{"drift", "Sensor drift, as-found gain", "A sensor's reading over the truth changes with the years. What a " +
		"recalibration finds (0.985: it read 1.5 % too little) tells drift from ageing.", nil},
	{"dark", "Dark", "A lamp that has failed and still hangs.", []string{"Dark"}},
	{"spot", "Spot and group relamp", "Replacing single lamps as they fail or fade; replacing all lamps of a " +
		"room at once.", nil},
	{"b10", "B10, B50", "The run-hours by which a tenth, or half, of the lamps have failed.", nil},
}

func glossaryOf(*book) (any, bool) { return glossary{terms, statuses}, true }

// termOf finds the term that a fact's name or a heading stands for, its unit aside; ""
// where there is none.
func termOf(name string) string {
	name, _, _ = strings.Cut(name, ",")
	for _, t := range terms {
		for _, n := range t.also {
			if strings.EqualFold(n, name) {
				return t.ID
			}
		}
	}
	return ""
}
