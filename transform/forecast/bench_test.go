package forecast_test

import (
	"testing"

	"wane/transform/forecast"
	"wane/transform/simfleet"
)

// big repeats an invented fleet's rooms under other names until it has so many
// fixtures over five years.
func big(fixtures int) *forecast.Input {
	f := simfleet.New(simfleet.Options{Seed: 77, Fixtures: 250, Days: 5 * 365, AllNew: true})
	in := f.Input
	base := len(in.Lamps)
	groups := len(in.Groups)
	for k := 1; k*250 < fixtures; k++ {
		suffix := string(rune('A'+k/26)) + string(rune('a'+k%26))
		for i := 0; i < base; i++ {
			l := in.Lamps[i]
			l.Fixture, l.Room, l.Group = l.Fixture+suffix, l.Room+suffix, l.Group+k*groups
			in.Lamps = append(in.Lamps, l)
		}
		in.Groups = append(in.Groups, in.Groups[:groups]...)
	}
	return &in
}

// BenchmarkFit10000 fits 10,000 fixtures over five years and answers them all.
func BenchmarkFit10000(b *testing.B) {
	in := big(10000)
	b.ReportAllocs()
	for b.Loop() {
		fit, err := forecast.Run(in, forecast.Options{})
		if err != nil {
			b.Fatal(err)
		}
		if a := fit.Answers(forecast.Asking{}); len(a) == 0 {
			b.Fatal("no answers")
		}
	}
}

// BenchmarkAnswer asks one stored posterior.
func BenchmarkAnswer(b *testing.B) {
	in := big(250)
	fit, err := forecast.Run(in, forecast.Options{})
	if err != nil {
		b.Fatal(err)
	}
	p := fit.Posteriors()[0]
	for b.Loop() {
		p.Answer(fit.Defaults(), forecast.Asking{})
	}
}
