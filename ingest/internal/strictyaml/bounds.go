package strictyaml

import (
	"bytes"
	"fmt"

	"wane/ingest/problem"
)

// What people write has bounds far beyond what they write, so that a file that
// is none of theirs costs neither the memory nor the time of a parser that
// nests as deep as its input.
const (
	mostBytes   = 1 << 20
	deepest     = 64     // brackets open at once, or indicators of one line that nest
	mostIndent  = 512    // columns before a line's text
	mostAliases = 10_000 // * and &
)

// bounds looks over the text before it is parsed; nil where it is within them.
// Brackets in quotes and comments count too: nobody writes so many there.
func bounds(data []byte) *problem.Problem {
	if len(data) > mostBytes {
		return &problem.Problem{What: fmt.Sprintf("the file has %d bytes, %d are read", len(data), mostBytes),
			Do: "split it, or look whether it is the file that was meant"}
	}
	depth, aliases := 0, 0
	for n, line := range bytes.Split(data, []byte("\n")) {
		text := bytes.TrimLeft(line, " \t")
		column := len(line) - len(text)
		nested := 0 // "- - - x" and "? ? x" nest by their indicators
		for i := 0; i+1 < len(text) && (text[i] == '-' || text[i] == '?') && (text[i+1] == ' ' || text[i+1] == '\t'); {
			nested++
			for i++; i < len(text) && (text[i] == ' ' || text[i] == '\t'); i++ {
			}
		}
		for i, c := range text {
			switch c {
			case '[', '{':
				depth++
			case ']', '}':
				depth = max(0, depth-1)
			case '*', '&':
				aliases++
			}
			if depth > deepest || aliases > mostAliases {
				return tooDeep(n, column+i)
			}
		}
		if nested > deepest || column > mostIndent {
			return tooDeep(n, column)
		}
	}
	return nil
}

func tooDeep(line, column int) *problem.Problem {
	return &problem.Problem{
		Line: line + 1, Column: column + 1, What: fmt.Sprintf("it is nested more than %d deep", deepest),
		Do: "write it flatter; look whether it is the file that was meant",
	}
}
