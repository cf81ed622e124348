package inspect

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/jsontable"
	"wane/ingest/decode/tabled"
	"wane/ingest/reading"
)

// jsonStart tells a document from a section of settings, which begins [Section].
var jsonStart = regexp.MustCompile(`^(\{|\[\s*([\[{"\]0-9-]|true|false|null))`)

// proposeJSON is the form of JSON documents. Each way in which the documents
// could be rows is understood as a table; the one that holds most is taken.
func proposeJSON(s *sample, a Answers, rep *Report) (*proposal, error) {
	if text := strings.TrimLeft(s.textOf(), " \t\r\n\x1e"); !jsonStart.MatchString(text) {
		return nil, nil
	}
	ways, err := jsontable.Survey(strings.NewReader(s.textOf()))
	if err != nil {
		return nil, &emit.FileError{File: s.name, What: fmt.Sprintf("begins as JSON, and cannot be read as such (%v)", err),
			Do: "fetch it again"}
	}
	if len(ways) == 0 {
		return nil, nil // such as a log whose stamps stand in brackets
	}
	var best *jsonWay
	var others []*jsonWay
	var why error
	for _, c := range ways {
		w, err := understandWay(s, a, c)
		if err != nil {
			if why == nil {
				why = err
			}
			continue
		}
		others = append(others, w)
	}
	others = ownTimed(others)
	for _, w := range others {
		if best == nil || w.worth > best.worth {
			best = w
		}
	}
	if best == nil {
		return nil, &emit.FileError{File: s.name, What: fmt.Sprintf("is JSON, and none of its %d lists or objects reads "+
			"as rows with a time and numbers (%v)", len(ways), why),
			Do: "fetch the readings with their times; a payload that is packed must come decoded"}
	}
	rep.add(Finding{"form", "JSON", Certain, "its text begins as JSON does"},
		Finding{"rows", best.of(), sureIf(best.alone(others)), fmt.Sprintf("%d rows with a time and numbers", best.Rows)})
	for _, w := range others {
		if w != best && !w.beside(best) {
			rep.add(Finding{"left out", w.of(), Likely, fmt.Sprintf("%d rows with times and numbers of their own, which this "+
				"description does not read", w.Rows)})
		}
	}
	if apart := best.apart(others); len(apart) > 0 {
		best.table.ask("json.rows", fmt.Sprintf("rows with times and numbers lie in %d places, and a description reads "+
			"one: %s, or %s; describe the file once for each, under names of their own",
			len(apart)+1, best.of(), strings.Join(apart, ", or ")))
	}
	if n, rows := looseNumbers(s.textOf()), best.Rows*len(best.Columns); best.Spec.Lists == "" && n > 2*rows {
		best.table.ask("json.rows", fmt.Sprintf("%d numbers stand in lists without moments of their own, and the "+
			"rows of %s have "+
			"%d values: if they follow each other from a start at an interval, export them with a time each", n, best.of(), rows))
	}
	best.askOfItems()
	return best.table.proposeAs(rep)
}

// ownTimed leaves out ways whose rows share the one moment of what they lie in, such as that of the request, where others
// have moments of their own.
func ownTimed(all []*jsonWay) []*jsonWay {
	moments := func(w *jsonWay) (own bool, n int) {
		at := w.table.times[0]
		return w.table.as.own[at], len(w.table.statsOf(at).values)
	}
	timed := slices.ContainsFunc(all, func(w *jsonWay) bool { own, n := moments(w); return own && n > 1 })
	return slices.DeleteFunc(all, func(w *jsonWay) bool { own, n := moments(w); return timed && !own && n == 1 })
}

var itemOfList = regexp.MustCompile(`^(.*\w)\[\d+\]$`)

// askOfItems asks what the numbers of a list in one row are: they have one moment, and may follow each other.
func (w *jsonWay) askOfItems() {
	count := map[string]int{}
	for _, c := range w.table.withRole("value") {
		if m := itemOfList.FindStringSubmatch(w.table.as.refs[c]); m != nil {
			if count[m[1]]++; count[m[1]] == 2 {
				w.table.ask("json.rows", fmt.Sprintf("%s is a list of numbers in a row of one moment: are they sensors side by "+
					"side, or do they follow each other from a start at an interval? Then export them with a time each", m[1]))
			}
		}
	}
}

// looseNumbers counts the numbers that stand in lists of nothing else, longer than a row is.
func looseNumbers(text string) (n int) {
	const row = 32
	d := json.NewDecoder(strings.NewReader(text))
	var in func(v any)
	in = func(v any) {
		switch v := v.(type) {
		case map[string]any:
			for _, x := range v {
				in(x)
			}
		case []any:
			if len(v) > row && !slices.ContainsFunc(v, func(x any) bool { _, number := x.(float64); return !number && x != nil }) {
				n += len(v)
				return
			}
			for _, x := range v {
				in(x)
			}
		}
	}
	for {
		var v any
		if d.Decode(&v) != nil {
			return n
		}
		in(v)
	}
}

// commaText is a number with a decimal comma, which JSON has in texts only.
var commaText = regexp.MustCompile(`"[+-]?\d+,\d+"`)

// jsonWay is a way in which the documents are rows, understood.
type jsonWay struct {
	jsontable.Candidate
	table *table
	worth int
}

func understandWay(s *sample, a Answers, c jsontable.Candidate) (*jsonWay, error) {
	as := &otherForm{lines: []string{"format: json", "json: {" + specKeys(c.Spec) + "}"}}
	var leaves []string
	for _, f := range c.Columns {
		as.refs = append(as.refs, f.Path)
		as.own = append(as.own, f.Own)
		leaves = append(leaves, f.Leaf)
	}
	w := &jsonWay{Candidate: c}
	signs := []string{"."}
	if commaText.MatchString(s.textOf()[:min(len(s.textOf()), 1<<20)]) {
		signs = []string{".", ","}
	}
	for _, decimal := range signs { // JSON's own numbers are written like those in texts
		text, err := wayText(s, c, as.refs, decimal)
		if err != nil {
			return nil, err
		}
		t, err := understandAs(s, a, as, append(tabled.AppendRow(nil, shortest(leaves, as.own)), text...))
		if err != nil {
			if decimal == signs[len(signs)-1] && w.table == nil {
				return nil, err
			}
			continue
		}
		if w.table == nil || string(t.decimal) == decimal && len(t.withRole("value")) > len(w.table.withRole("value")) {
			w.table = t
		}
	}
	for i := range w.table.columns {
		k := &w.table.columns[i]
		if k.Role != "value" {
			continue
		}
		if !as.own[i] { // the same number with each row is no reading
			k.Role, k.Channel, k.Evidence = "id", "", "it lies outside of the rows"
			continue
		}
		w.worth += c.Rows
		if k.Quantity != "" {
			w.worth += 9 * c.Rows
		}
	}
	if w.worth == 0 {
		return nil, fmt.Errorf("the rows of %s have no numbers of their own", w.of())
	}
	return w, nil
}

// wayText is the sample's rows as text, without header.
func wayText(s *sample, c jsontable.Candidate, paths []string, decimal string) ([]byte, error) {
	var text []byte
	e := emit.New(nowhere{}, timeZero)
	defer e.Leave()
	rows, err := jsontable.New(s.name, strings.NewReader(s.textOf()), c.Spec, paths, decimal, e)
	if err != nil {
		return nil, err
	}
	for len(text) < sampleBytes {
		cells, err := rows.Next()
		if err != nil {
			break // the end, or damage that the trial shows
		}
		if cells != nil {
			text = tabled.AppendRow(text, cells)
		}
	}
	return text, nil
}

// shortest gives for each dotted name as few of its last parts as tell it from
// the others; of what rows lie in at least two, as an id is that of something.
func shortest(names []string, own []bool) []string {
	out := make([]string, len(names))
	parts := make([][]string, len(names))
	for i, n := range names {
		parts[i] = strings.Split(n, ".")
	}
	for n := 1; n <= 8; n++ {
		count := map[string]int{}
		for i, p := range parts {
			if n == 1 || out[i] == "" {
				count[strings.Join(p[max(0, len(p)-n):], ".")]++
			}
		}
		for i, p := range parts {
			if short := strings.Join(p[max(0, len(p)-n):], "."); out[i] == "" && count[short] == 1 && (own[i] || n > 1) {
				out[i] = short
			}
		}
	}
	for i := range out {
		if out[i] == "" {
			out[i] = names[i]
		}
	}
	return apart(out)
}

// of is the path of the rows, or of the object of lists.
func (w *jsonWay) of() string { return w.Spec.Rows + w.Spec.Lists }

var pathSteps = regexp.MustCompile(`\.[A-Za-z_][A-Za-z0-9_]*|\[[^\]]*\]`)

// beside tells whether one way's rows lie in the other's: then both read the same
// readings.
func (w *jsonWay) beside(o *jsonWay) bool {
	a, b := pathSteps.FindAllString(w.of(), -1), pathSteps.FindAllString(o.of(), -1)
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] && a[i] != "[*]" && b[i] != "[*]" {
			return false
		}
	}
	return true
}

// alone tells whether no other way is worth nearly as much.
func (w *jsonWay) alone(all []*jsonWay) bool {
	for _, o := range all {
		if o != w && !o.beside(w) && 4*o.worth > w.worth {
			return false
		}
	}
	return true
}

// apart lists the other ways that hold rows of the same kind elsewhere: what one description
// reads would leave those out.
func (w *jsonWay) apart(all []*jsonWay) (out []string) {
	for _, o := range all {
		if o != w && !o.beside(w) && 4*o.worth > w.worth && len(out) < 8 {
			out = append(out, o.of())
		}
	}
	return out
}

func specKeys(s jsontable.Spec) string {
	var parts []string
	for _, k := range []struct{ key, path string }{{"rows", s.Rows}, {"lists", s.Lists}, {"names", s.Names}} {
		if k.path != "" {
			parts = append(parts, k.key+": "+quote(k.path))
		}
	}
	return strings.Join(parts, ", ")
}

// nowhere is a sink for what is only looked at.
type nowhere struct{}

func (nowhere) Readings(*reading.Batch) error { return nil }
func (nowhere) Reject(reading.Reject) error   { return nil }
