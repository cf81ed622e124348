package inspect

import (
	"fmt"
	"strings"
	"testing"
)

// TestTimesThatNoFormatReads: the refusal names the column, the start where the file tells it, and what to write.
func TestTimesThatNoFormatReads(t *testing.T) {
	for _, c := range []struct {
		head string
		cell func(i int) string
		want []string
	}{
		{"Start;2026-03-27 14:00:00\nElapsed;PPFD", func(i int) string { return fmt.Sprintf("%d:%02d:00", i/6, i%6*10) },
			[]string{"column 1 counts the time since a start (0:00:00, 0:10:00, 0:20:00, …)", "which was 2026-03-27 14:00:00 by line 1"}},
		{"Test of 27.03.2026 14:00\ns;PPFD", func(i int) string { return fmt.Sprint(600 * i) },
			[]string{"since a start (0, 600, 1200, …), which was 27.03.2026 14:00 by line 1", "format: 'yyyy-MM-dd HH:mm:ss'"}},
		{"s;PPFD", func(i int) string { return fmt.Sprint(600 * i) }, []string{"no line says when that was"}},
		{"Week;PPFD", func(i int) string { return fmt.Sprintf("2026-W%02d-%d", 13+i/7, 1+i%7) },
			[]string{"column 1 holds weeks of ISO 8601 (2026-W13-1)", "format: 'yyyy-MM-dd HH:mm'"}},
		{"JD;PPFD", func(i int) string { return fmt.Sprintf("%.2f", 2461127.5+float64(i)/4) },
			[]string{"column 1 counts Julian days (2461127.50)", "take 2415018.5 from each", "serial-days"}},
		{"DOY;PPFD", func(i int) string { return fmt.Sprint(86 + i) },
			[]string{"may count the days of a year (86)", "format: 'yyyy DDD'"}},
		{"Month;Day;Hour;PPFD", func(i int) string { return fmt.Sprintf("3;27;%d", i) },
			[]string{"columns 1 and 2 hold the month and the day, and no column says which year", "format: 'yyyy M d H'"}},
		{"Clock;PPFD", func(i int) string { return fmt.Sprintf("%d:%02d", 8+i/6, i%6*10) },
			[]string{"column 1 holds times of day (8:00), and no column says of which day"}},
		{"Zone;PPFD", func(i int) string { return "15" }, []string{"no column reads as a time stamp"}},
		{"Name;PPFD", func(i int) string { return "F" + fmt.Sprint(i) }, []string{"no column reads as a time stamp"}},
	} {
		text := c.head + "\n"
		for i := range 30 {
			text += c.cell(i) + fmt.Sprintf(";%d.5\n", 400+i*7%31)
		}
		_, err := FileWith("export.csv", strings.NewReader(text), Answers{Zone: "UTC", Order: "dmy"})
		for _, want := range c.want {
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %v, want %q", c.head, err, want)
			}
		}
	}
}
