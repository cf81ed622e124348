package report

import (
	"strings"
	"testing"

	"wane/cmd/wane/internal/measures"
	"wane/transform/measure"
	"wane/transform/todo"
)

// The front page says each measurement that the plan's page asks for, once: with the
// question of the sensor's lamps, or on a line of its own, after the silent loggers.
func TestFrontPageSaysWhatToMeasure(t *testing.T) {
	in := threeRoomsInput(t)
	in.Plan = planFor(t, in, priced())
	in.Measure = measure.Choose(measures.Gather(in.Result, in.Plan, priced()), measure.Limits{Count: 3})
	if len(in.Measure.Chosen) != 3 {
		t.Fatalf("%d measurements were chosen", len(in.Measure.Chosen))
	}
	b := newBook(in)
	asked := map[string]bool{}
	for _, a := range todo.List(b.todo) {
		if a.Kind == todo.Question {
			asked[a.Sensor] = true
		}
	}
	week := b.week()
	own := 0
	for i := range in.Measure.Chosen {
		c := &in.Measure.Chosen[i]
		n := 0
		for k, l := range week {
			if l.Do != sentence(c.Settle()) {
				continue
			}
			n++
			if !strings.Contains(l.Why, "minutes: ") || l.How.Link != "plan.html#measure" || len(l.Who) == 0 {
				t.Errorf("%q lacks what it takes, whom it helps or where it is told how: %+v", l.Do, l)
			}
			if l.Head == heads[todo.Question].words != asked[c.Target] {
				t.Errorf("%q of sensor %s stands under %q", l.Do, c.Target, l.Head)
			}
			if l.Head == "Would help to measure" {
				own++
				for _, before := range week[k:] {
					if before.Head == heads[todo.Silent].words {
						t.Errorf("%q stands before a silent logger", l.Do)
					}
				}
			}
		}
		asked[c.Target] = false // a second one of the sensor stands on its own
		if n != 1 {
			t.Errorf("%q stands %d times on the front page", c.Settle(), n)
		}
	}
	if own == 0 || own == len(in.Measure.Chosen) {
		t.Errorf("%d of %d stand on a line of their own: the test holds one case only", own, len(in.Measure.Chosen))
	}
}
