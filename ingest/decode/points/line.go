package points

import (
	"errors"
	"fmt"
	"strings"
)

// Line reads a line of line protocol: measurement,tag=value field=value,… time.
// A backslash takes the meaning from a comma, a blank or an equals sign.
func Line(line string) ([]Point, error) {
	line = strings.TrimSpace(line)
	if line == "" || line[0] == '#' {
		return nil, nil
	}
	head, rest := cutAt(line, " ")
	if rest == "" {
		return nil, errEnds("its fields")
	}
	name, tags := cutAt(head, ",")
	if name == "" {
		return nil, errors.New("the line has no measurement")
	}
	p := Point{Measurement: plain(name)}
	for tags != "" {
		var tag string
		tag, tags = cutAt(tags, ",")
		key, value := cutAt(tag, "=")
		if key == "" || value == "" {
			return nil, fmt.Errorf("%q is no tag with a value", tag)
		}
		p.Tags = append(p.Tags, Tag{plain(key), plain(value)})
	}
	var out []Point
	for more := true; more; {
		var key string
		if key, rest = cutAt(rest, "="); key == "" || rest == "" {
			return nil, fmt.Errorf("%q is no field with a value", key)
		}
		f := p
		f.Field = plain(key)
		if rest[0] == '"' {
			end := closing(rest)
			if end < 0 {
				return nil, errors.New("a text is not closed")
			}
			f.Value, f.Text, rest = rest[1:end], true, rest[end+1:]
		} else {
			end := strings.IndexAny(rest, ", ")
			if end < 0 {
				end = len(rest)
			}
			if end == 0 {
				return nil, fmt.Errorf("%q is no field with a value", key)
			}
			f.number(rest[:end])
			rest = rest[end:]
		}
		out = append(out, f)
		if more = strings.HasPrefix(rest, ","); more {
			rest = rest[1:]
		} else if rest != "" && rest[0] != ' ' {
			return nil, errors.New("text follows a value")
		}
	}
	if at := strings.TrimSpace(rest); at != "" {
		if strings.Trim(strings.TrimPrefix(at, "-"), "0123456789") != "" {
			return nil, fmt.Errorf("%q is no time stamp", at)
		}
		for i := range out {
			out[i].Time = at
		}
	}
	return out, nil
}

// number takes a value that is no text: 12.5, 12i, 12u, or a truth value.
func (p *Point) number(s string) {
	switch s {
	case "t", "T", "true", "True", "TRUE", "f", "F", "false", "False", "FALSE":
		p.Value, p.Text = s, true
		return
	}
	if n := len(s); n > 1 && (s[n-1] == 'i' || s[n-1] == 'u') {
		s = s[:n-1]
	}
	p.Value = s
}

// cutAt cuts at the first of some characters that no backslash stands before.
func cutAt(s, chars string) (before, after string) {
	for i := 0; i < len(s); i++ {
		if s[i] == '\\' {
			i++
			continue
		}
		if strings.IndexByte(chars, s[i]) >= 0 {
			return s[:i], s[i+1:]
		}
	}
	return s, ""
}

// closing gives where a quoted text ends, -1 for nowhere.
func closing(s string) int {
	for i := 1; i < len(s); i++ {
		if s[i] == '\\' {
			i++
		} else if s[i] == '"' {
			return i
		}
	}
	return -1
}

var unescape = strings.NewReplacer(`\,`, ",", `\ `, " ", `\=`, "=", `\\`, `\`)

func plain(s string) string { return unescape.Replace(s) }
