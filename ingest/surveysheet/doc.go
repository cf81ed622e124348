// Package surveysheet reads canopy surveys as people write them down: the plain
// form, a CSV with the header
//
//	survey,taken_at,fixture,height_m,row,col,ppfd
//
// of one line a spot (several surveys may share a file), and a grid pasted as
// lines of numbers, row by row, parted by tabs, semicolons, spaces or commas.
//
// What cannot be read is a Reject with its line and a reason that says what to
// do; the rest of the batch goes on. Of every file, Rows = Stored + Duplicates
// + len(Rejects). A decimal comma is read where only one reading of it is
// possible and refused in words where there are two.
package surveysheet

import "wane/transform/survey"

// Reject is one line that was not taken, or a whole survey, named by its first line.
type Reject struct {
	Line   int // from 1
	Reason string
}

// Result is what a file gave.
type Result struct {
	Surveys []survey.Survey // in order of first appearance
	Rejects []Reject        // in order of line
	// Rows counts the lines that hold data; Stored those that are in Surveys (a
	// spot written down as not read is one), Duplicates those that repeat an
	// earlier line word for word.
	Rows, Stored, Duplicates int
}

// MaxBytes bounds a sheet; a survey is a page, not a data set.
const MaxBytes = 16 << 20
