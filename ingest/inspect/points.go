package inspect

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/points"
)

const lookPoints = 20000 // points that are looked at

// pointForms are the forms of single values with a name and tags.
var pointForms = []struct {
	format, said string
	parse        points.Parse // nil for annotated CSV
}{
	{"annotated-csv", "annotated CSV", nil},
	{"lines", "line protocol", points.Line},
	{"exposition", "metrics as text", points.Metric},
}

// proposePoints is the form of line protocol, of metrics as text and of annotated
// CSV.
func proposePoints(s *sample, _ Answers, rep *Report) (*proposal, error) {
	for _, f := range pointForms {
		list := s.pointsOf(f.parse)
		if len(list) == 0 {
			continue
		}
		list = slices.DeleteFunc(list, func(p points.Point) bool { return p.Text })
		if len(list) == 0 {
			return nil, &emit.FileError{File: s.name, What: "is " + f.said + ", and holds no numbers",
				Do: "is it the right file?"}
		}
		format, why, err := pointStamp(s.name, f.format, list)
		if err != nil {
			return nil, err
		}
		sensor, because := sensorOfPoints(list)
		rep.add(Finding{"form", f.said, Certain, fmt.Sprintf("%d values of it read as such", len(list))},
			Finding{"time format", format, Certain, why},
			Finding{"sensor", sensor, Likely, because})
		for i, name := range []string{"time", sensor, "field", "value"} {
			rep.Columns = append(rep.Columns, Column{Position: i + 1, Name: name,
				Role: []string{"time", "sensor", "channel", "value"}[i], Sure: Certain, Evidence: "the form has it"})
		}
		t := &table{sample: s}
		var b strings.Builder
		line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
		line("# Proposed from %q. Read it before you trust it.", s.member)
		line("name: %s", yamlWord(t.nameOfSource()))
		line("files: [%s]", quote(t.globOf()))
		line("format: %s", f.format)
		line("time: {format: %s}", quote(format))
		line("long: {sensor: %s, channel: field}   # likely: %s", quote(sensor), because)
		return &proposal{source: t.nameOfSource(), text: b.String(), trial: b.String()}, nil
	}
	return nil, nil
}

var errEnough = errors.New("enough")

// pointsOf takes the beginning of the sample apart; none where it is of another
// form.
func (s *sample) pointsOf(parse points.Parse) (list []points.Point) {
	if parse == nil {
		if first, _, _ := strings.Cut(strings.TrimLeft(s.textOf(), "\r\n"), ","); first != "#datatype" && first != "#group" &&
			first != "#default" {
			return nil
		}
		_ = points.Annotated(context.Background(), strings.NewReader(s.textOf()), func(_ int, p *points.Point) error {
			if list = append(list, *p); len(list) >= lookPoints {
				return errEnough
			}
			return nil
		}, func(int, string, string) error { return nil }) // its error is the end, or damage that the trial shows
		return list
	}
	good, bad := 0, 0
	for _, l := range s.lines {
		got, err := parse(strings.TrimRight(l.text, "\r\n"))
		if err != nil {
			bad++
		} else if len(got) > 0 {
			good++
		}
		if bad > 10 && bad > good || len(list) >= lookPoints {
			break
		}
		list = append(list, got...)
	}
	if good == 0 || 10*bad > good {
		return nil
	}
	return list
}

// pointStamp tells the unit of the time stamps by their size: what is now in one
// unit is a thousand times off in the next.
func pointStamp(name, form string, list []points.Point) (format, why string, err error) {
	count := map[string]int{}
	example, dated := "", 0
	for _, p := range list {
		if p.Time == "" {
			continue
		}
		dated++
		f := "rfc3339"
		if strings.Trim(p.Time, "-0123456789.eE+") == "" && !strings.ContainsAny(p.Time[1:], "-:") {
			switch whole, _, _ := strings.Cut(p.Time, "."); len(whole) {
			case 9, 10:
				f = "epoch-s"
			case 12, 13:
				f = "epoch-ms"
			case 15, 16:
				f = "epoch-us"
			case 18, 19:
				f = "epoch-ns"
			default:
				f = ""
			}
		}
		if count[f]++; count[f] == 1 {
			example = p.Time
		}
	}
	for f, n := range count {
		if f != "" && 10*n >= 8*dated && 2*dated > len(list) {
			return f, "stamps such as " + example, nil
		}
	}
	if 2*dated <= len(list) {
		return "", "", &emit.FileError{File: name, What: fmt.Sprintf("of %d values %d have a time stamp: the file does "+
			"not say when the others were measured", len(list), dated), Do: "have it written with time stamps"}
	}
	return "", "", &emit.FileError{File: name, What: "its time stamps are of no unit, or of several (such as " + example +
		")", Do: "write them in one unit: seconds, milliseconds, microseconds or nanoseconds"}
}

// sensorOfPoints gives the one tag that tells the series apart as well as all of
// them do, or series.
func sensorOfPoints(list []points.Point) (name, why string) {
	var tags []string
	series, perField := map[string]bool{}, map[string]map[string]bool{}
	for i := range list {
		p := &list[i]
		series[p.Series()+"\x00"+p.Field] = true
		for _, t := range p.Tags {
			if !slices.Contains(tags, t.Name) && len(tags) < 50 {
				tags = append(tags, t.Name)
			}
		}
	}
	for _, t := range tags {
		perField[t] = map[string]bool{}
		whole := true
		for i := range list {
			v := list[i].Of(t)
			whole = whole && v != ""
			perField[t][v+"\x00"+list[i].Field] = true
		}
		if whole && len(perField[t]) == len(series) {
			return t, fmt.Sprintf("the tag %s tells all %d series apart", t, len(series))
		}
	}
	return "series", "no one tag tells the series apart: the measurement with all of its tags does"
}
