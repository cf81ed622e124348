package inspect

import (
	"bufio"
	"bytes"
	"context"

	"wane/ingest/decode/columnar"
	"wane/ingest/decode/emit"
	"wane/ingest/decode/tabled"
	"wane/ingest/decode/unwrap"
)

func (s *sample) isParquet() bool { return bytes.HasPrefix(s.raw, []byte("PAR1")) }

// proposeParquet is the form of Parquet files with columns of their own.
func proposeParquet(s *sample, a Answers, rep *Report) (*proposal, error) {
	if !s.isParquet() {
		return nil, nil
	}
	raw := bytes.NewReader(s.raw)
	rows, err := columnar.NewRows(context.Background(), s.name, raw, bufio.NewReader(bytes.NewReader(s.raw)),
		unwrap.Default, nil)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	names := rows.Names()
	if len(names) < 2 {
		return nil, &emit.FileError{File: s.name, What: "the Parquet file has fewer than two columns of single values",
			Do: "write a flat table with a time and values"}
	}
	text := tabled.AppendRow(nil, names)
	if text, err = tableText(text, rows); err != nil {
		return nil, err
	}
	rep.add(Finding{"form", "Parquet", Certain, "its first bytes, and it has columns of its own"})
	t, err := understandAs(s, a, &otherForm{lines: []string{"format: parquet"}, refs: names}, text)
	if err != nil {
		return nil, err
	}
	return t.proposeAs(rep)
}
