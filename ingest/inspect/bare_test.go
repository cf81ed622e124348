package inspect

import (
	"fmt"
	"strings"
	"testing"
)

// TestNumbersThatLookLikeClocks: 1.35 is a clock under a name for one, or without a name, and else a number, where each
// line has a date of its own.
func TestNumbersThatLookLikeClocks(t *testing.T) {
	days := func(head string, columns int) string {
		var b strings.Builder
		b.WriteString(head)
		for d := range 20 {
			fmt.Fprintf(&b, "2026-06-%02d", d+1)
			for c := range columns {
				fmt.Fprintf(&b, ",%d.%02d", 1+(d+c)%7, 7*(d+3*c)%60)
			}
			b.WriteString("\n")
		}
		return b.String()
	}
	hours := "Date"
	for h := range 24 {
		hours += fmt.Sprintf(",%02d:00", h)
	}
	for _, c := range []struct{ text, want string }{
		{days(hours+",Total\n", 25), "layout: days"},
		{days("Date,Yield (kWh),Air (degC)\n", 2), "time: {columns: ['Date'], format: 'yyyy-MM-dd'}"},
		{days("Date,Time,Air (degC)\n", 2), "time: {columns: ['Date', 'Time'], format: 'yyyy-MM-dd H.mm'}"},
		{days("", 2), "time: {columns: [1, 2], format: 'yyyy-MM-dd H.mm'}"},
	} {
		rep, err := FileWith("export.csv", strings.NewReader(c.text), Answers{Zone: "UTC"})
		if err != nil || !strings.Contains(rep.Proposal, c.want) {
			t.Errorf("%v, want %s in\n%s", err, c.want, rep.Proposal)
		}
	}
}
