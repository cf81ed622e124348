package register

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Append gives the text of one of the tables with rows added behind the others,
// each by column name, in the file's own order of columns. file is for messages.
// The rows alone come back too, as they were written.
func Append(file string, old []byte, rows []map[string]string) (next, added []byte, err error) {
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(old, []byte("\xef\xbb\xbf"))))
	r.Comment, r.FieldsPerRecord = '#', -1 // as read takes the table apart
	head, err := r.Read()
	if errors.Is(err, io.EOF) {
		return nil, nil, fmt.Errorf("%s has no header; `wane new DIR` shows one", file)
	}
	if err != nil {
		return nil, nil, fmt.Errorf("read the header of %s: %w", file, err)
	}
	var b bytes.Buffer
	for _, fields := range rows {
		if err := appendRow(&b, head, fields); err != nil {
			return nil, nil, err
		}
	}
	next = append(next, old...)
	if len(next) > 0 && next[len(next)-1] != '\n' {
		next = append(next, '\n')
	}
	return append(next, b.Bytes()...), b.Bytes(), nil
}

// appendRow writes one row.
func appendRow(b *bytes.Buffer, head []string, fields map[string]string) error {
	rec := make([]string, len(head))
	for i, name := range head {
		rec[i] = fields[strings.TrimSpace(name)]
	}
	var line bytes.Buffer
	w := csv.NewWriter(&line)
	if err := w.Write(rec); err != nil {
		return err
	}
	w.Flush()
	if first := rec[0]; strings.HasPrefix(first, "#") && line.Bytes()[0] == '#' { // unquoted it would be a comment
		b.WriteString(`"` + first + `"`)
		line.Next(len(first))
	}
	b.Write(line.Bytes())
	return w.Error()
}
