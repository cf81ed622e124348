package objects

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
)

const maxObject = 64 << 10 // bytes of one record; those of loggers have some hundred

// splitter takes a JSON array of objects apart without holding more than one.
type splitter struct {
	r     *bufio.Reader
	buf   []byte
	begun bool
	first bool
}

// chunk is one record of the array.
type chunk struct {
	text      []byte
	tooLong   bool
	truncated bool // the file ended inside it
}

// next gives the next object; io.EOF behind the closing bracket.
func (s *splitter) next() (chunk, error) {
	c, err := s.skipBlank()
	if err != nil {
		if err == io.EOF && s.begun {
			return chunk{truncated: true}, nil
		}
		if err == io.EOF {
			err = fmt.Errorf("the pack is blank")
		}
		return chunk{}, err
	}
	if !s.begun {
		if c != '[' {
			return chunk{}, fmt.Errorf("the pack does not begin with [")
		}
		s.begun, s.first = true, true
		return s.next()
	}
	switch {
	case c == ']':
		return chunk{}, io.EOF
	case c == ',' && !s.first:
		if c, err = s.skipBlank(); err == io.EOF {
			return chunk{truncated: true}, nil
		} else if err != nil {
			return chunk{}, err
		}
	case !s.first:
		return chunk{}, fmt.Errorf("a comma or ] is expected behind a record, not %q", c)
	}
	s.first = false
	if c != '{' {
		return chunk{}, fmt.Errorf("a record must begin with {, not %q", c)
	}
	return s.object()
}

// object reads up to the bracket that closes the one just read.
func (s *splitter) object() (chunk, error) {
	s.buf = append(s.buf[:0], '{')
	depth, inString, escaped, long := 1, false, false, false
	for depth > 0 {
		c, err := s.r.ReadByte()
		if err == io.EOF {
			return chunk{text: s.buf, truncated: true}, nil
		}
		if err != nil {
			return chunk{}, err
		}
		if len(s.buf) < maxObject {
			s.buf = append(s.buf, c)
		} else {
			long = true
		}
		switch {
		case escaped:
			escaped = false
		case inString && c == '\\':
			escaped = true
		case c == '"':
			inString = !inString
		case inString:
		case c == '{' || c == '[':
			depth++
		case c == '}' || c == ']':
			depth--
		}
	}
	return chunk{text: s.buf, tooLong: long}, nil
}

func (s *splitter) skipBlank() (byte, error) {
	for {
		c, err := s.r.ReadByte()
		if err != nil || c != ' ' && c != '\t' && c != '\n' && c != '\r' {
			return c, err
		}
	}
}

// fieldsOf reads one flat object. Numbers stay as printed.
func fieldsOf(text []byte) (map[string]any, error) {
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.UseNumber()
	var m map[string]any
	if err := dec.Decode(&m); err != nil {
		return nil, err
	}
	if m == nil {
		return nil, fmt.Errorf("the record is null")
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, fmt.Errorf("text follows the record")
	}
	return m, nil
}
