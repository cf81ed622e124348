package inspect

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/decode/aligned"
	"wane/ingest/decode/tabled"
)

// proposeAligned is the form of text whose cells are parted by runs of blanks, or
// stand at fixed places. It is taken where no delimiter explains the lines nearly
// as well.
func proposeAligned(s *sample, a Answers, rep *Report) (*proposal, error) {
	lines := make([]string, 0, len(s.lines))
	for _, l := range s.lines {
		if line := strings.TrimRight(l.text, "\r\n"); strings.TrimSpace(line) != "" {
			lines = append(lines, line)
		}
	}
	parted := 0
	for _, l := range lines {
		if strings.ContainsAny(l, "\t;") {
			parted++
		}
	}
	width, share := widthOf(lines)
	if width < 2 || share < 0.4 || width == 2 && share < 0.9 || 2*parted > len(lines) {
		return nil, nil
	}
	best, starts := s.alignedFit(a, nil)
	if share < 0.97 {
		if at := placesOf(lines); len(at) > 2 {
			if t, _ := s.alignedFit(a, at); t != nil && (best == nil || t.fit > best.fit) {
				best, starts = t, at
			}
		}
	}
	plain := &table{sample: s, answers: a, report: &Report{File: s.name}}
	if err := plain.dialect(); best == nil || err == nil && 0.85*best.fit <= plain.fit {
		return nil, nil
	}
	t, err := understandAs(s, a, best.as, []byte(best.text))
	if err != nil {
		return nil, err
	}
	how := "runs of blanks"
	if len(starts) > 0 {
		how = fmt.Sprintf("%d fixed places", len(starts))
	}
	rep.add(Finding{"form", "aligned text", Likely, fmt.Sprintf("%s part the lines into %d columns", how, t.width)})
	return t.proposeAs(rep)
}

// alignedFit cuts the text and says how well that explains it; nil where it does
// not.
func (s *sample) alignedFit(a Answers, starts []int) (*table, []int) {
	var text []byte
	for line := range strings.Lines(s.textOf()) {
		text = tabled.AppendRow(text, aligned.Cut(strings.TrimRight(line, "\r\n"), starts))
	}
	as := &otherForm{lines: []string{"format: aligned"}}
	if len(starts) > 0 {
		list := make([]string, len(starts))
		for i, n := range starts {
			list[i] = strconv.Itoa(n)
		}
		as.lines = append(as.lines, "columnStarts: ["+strings.Join(list, ", ")+"]")
	}
	made := *s
	made.setText(string(text))
	t := &table{sample: &made, answers: a, report: &Report{File: s.name}, as: as}
	if t.dialect() != nil {
		return nil, nil
	}
	return t, starts
}

// widthOf gives the most frequent number of cells parted by blanks, and the share
// of lines that have it.
func widthOf(lines []string) (width int, share float64) {
	count := map[int]int{}
	for _, l := range lines {
		count[len(aligned.Cut(l, nil))]++
	}
	for w, n := range count {
		if n > count[width] || n == count[width] && w > width {
			width = w
		}
	}
	return width, float64(count[width]) / float64(max(len(lines), 1))
}

// placesOf finds the places of cells from the lines that are as long as most and
// have a digit: not from titles.
func placesOf(lines []string) []int {
	var lengths []int
	for _, l := range lines {
		lengths = append(lengths, len(l))
	}
	slices.Sort(lengths)
	usual := lengths[len(lengths)/2]
	var data []string
	for _, l := range lines {
		if strings.ContainsAny(l, "0123456789") && len(l) <= usual+2 && 2*len(l) >= usual {
			data = append(data, l)
		}
	}
	if 10*len(data) < 8*len(lines) {
		return nil
	}
	return aligned.Starts(data)
}
