package surveysheet

import (
	"regexp"
	"strconv"
	"strings"
)

// label reads the name of a row or column: A, B …, R1, Row 1, C 2, Col-3, 4.
// The number counts from 1.
func label(s string) (n int, ok bool) {
	m := labelForm.FindStringSubmatch(strings.ToLower(strings.TrimSpace(s)))
	switch {
	case m == nil:
		return 0, false
	case m[2] != "":
		n, _ = strconv.Atoi(m[2]) // digits by the form
		return n, n > 0
	}
	return int(m[1][0]-'a') + 1, true
}

var labelForm = regexp.MustCompile(`^(?:([a-z])|(?:r|c|row|col|column|line|x|y|reihe|zeile|spalte|rij|kolom|rang|colonne)?[ ._#-]*([0-9]{1,3}))$`)

// order gives the places, from 0, that labels name. ok is false where they do
// not name each of 1 … n once.
func order(labels []string) (places []int, ok bool) {
	seen := make([]bool, len(labels))
	for _, l := range labels {
		n, ok := label(l)
		if !ok || n > len(labels) || seen[n-1] {
			return nil, false
		}
		seen[n-1] = true
		places = append(places, n-1)
	}
	return places, len(places) > 0
}

// positions reads distances that rise: 0, 0.3, 0.6 … unit is how many metres one
// is, 0 where nothing says it.
func positions(cells []string) (at []float64, unit float64, ok bool) {
	for i, c := range cells {
		c = strings.ToLower(strings.TrimSpace(c))
		for _, u := range lengthUnits {
			if rest, cut := strings.CutSuffix(c, u.name); cut && strings.TrimSpace(rest) != "" {
				c, unit = strings.TrimSpace(rest), u.metres
				break
			}
		}
		v, err := number(c)
		if err != nil || i > 0 && v <= at[i-1] {
			return nil, 0, false
		}
		at = append(at, v)
	}
	return at, unit, len(at) > 1
}

// lengthUnits, the longer names first.
var lengthUnits = []struct {
	name   string
	metres float64
}{{"mm", .001}, {"cm", .01}, {"inches", .0254}, {"inch", .0254}, {"in", .0254}, {`"`, .0254}, {"feet", .3048},
	{"ft", .3048}, {"m", 1}}

// summary says whether a label names something made of the readings, which is
// no reading itself.
func summary(s string) bool {
	return summaryForm.MatchString(strings.ToLower(strings.TrimSpace(s)))
}

var summaryForm = regexp.MustCompile(`^(?:row |col(?:umn)? )?(?:av(?:g|erage|\.)?|mean|median|min(?:imum)?|max(?:imum)?|sum|total|std(?:ev)?|sd|cv|uniformity|u0|ø|mittel(?:wert)?|gemiddelde?|moyenne|media|summe|totaal)\b.*$`)
