package lamp

import (
	"math"

	"wane/transform/daily"
	"wane/transform/suspect"
)

// sunlight is how far the lamp's light follows the sun, in a room that the site does not
// call daylit.
func (l *Life) sunlight(rows []daily.Row, rules Rules) suspect.Sunlight {
	if rules.Daylight[l.Place.Room] {
		return suspect.Sunlight{}
	}
	var days []suspect.LightDay
	from := l.ReadFrom()
	for i := range rows {
		d := &rows[i]
		if d.Day.Day >= from && d.Day.Day <= l.LastDay && d.PPFD > 0 && d.DimPct > 0 {
			days = append(days, suspect.LightDay{Day: d.Day.Day, Ln: math.Log(d.PPFD / d.DimPct), Spread: d.Spread})
		}
	}
	return suspect.SunlightOf(days)
}

// Finish tells, once all fixtures are in, which lives' light follows the sun: by itself,
// or since all of its room's does.
func (r *Record) Finish() {
	byRoom := map[string]suspect.Sunlight{}
	for _, l := range r.Lives {
		byRoom[l.Place.Room] = byRoom[l.Place.Room].With(l.sun)
	}
	for _, l := range r.Lives {
		l.Sunlit = l.sun.There() || byRoom[l.Place.Room].There()
	}
}
