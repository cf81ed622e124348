package points

import (
	"errors"
	"fmt"
	"strings"
)

var unquote = strings.NewReplacer(`\"`, `"`, `\n`, " ", `\\`, `\`)

// Metric reads a line of the text exposition of metrics: name{label="value"}
// value time. The metric is the field; what stands behind a # is a remark.
func Metric(line string) ([]Point, error) {
	line = strings.TrimSpace(line)
	if line == "" || line[0] == '#' {
		return nil, nil
	}
	end := strings.IndexAny(line, "{ \t")
	if end <= 0 || line[0] >= '0' && line[0] <= '9' || strings.IndexFunc(line[:end], notInName) >= 0 {
		return nil, errors.New("the line does not begin with the name of a metric")
	}
	p := Point{Measurement: line[:end], Field: line[:end]}
	rest := line[end:]
	if rest[0] == '{' {
		var err error
		if rest, err = p.labels(rest[1:]); err != nil {
			return nil, err
		}
	}
	if i := strings.Index(rest, " # "); i >= 0 { // an exemplar
		rest = rest[:i]
	}
	switch f := strings.Fields(rest); len(f) {
	case 0:
		return nil, errEnds("its value")
	case 1:
		p.Value = f[0]
	case 2:
		p.Value, p.Time = f[0], f[1]
	default:
		return nil, errors.New("text follows the time stamp")
	}
	return []Point{p}, nil
}

func notInName(r rune) bool {
	return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' || r == ':')
}

// labels takes them off up to the closing brace.
func (p *Point) labels(s string) (rest string, err error) {
	for {
		s = strings.TrimLeft(s, " ,")
		if strings.HasPrefix(s, "}") {
			return s[1:], nil
		}
		name, after, ok := strings.Cut(s, "=")
		after = strings.TrimLeft(after, " ")
		if !ok || !strings.HasPrefix(after, `"`) {
			return "", fmt.Errorf("%.40q is no label", s)
		}
		end := closing(after)
		if end < 0 {
			return "", errors.New("a label is not closed")
		}
		p.Tags = append(p.Tags, Tag{strings.TrimSpace(name), unquote.Replace(after[1:end])})
		s = after[end+1:]
	}
}
