// Package workbook reads spreadsheet workbooks (.xlsx): a sheet comes to rows of
// text cells, which are read as any table.
//
// A date is a number in such a file, told by the number format of its cell alone:
// cells with a format of dates become yyyy-MM-dd, with one of dates and times
// yyyy-MM-dd HH:mm:ss, with one of times HH:mm:ss (format.go). Other numbers are
// written with their 15 digits, with the decimal sign asked for; formulas with
// the value that was last worked out.
package workbook

import (
	"archive/zip"
	"bufio"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"github.com/xuri/excelize/v2"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/unwrap"
)

const (
	maxXML    = 256 << 20 // bytes of all parts, unpacked
	inMemory  = 16 << 20  // bytes of a part that is held in memory; a larger one goes to a temporary file
	ratioFrom = 16 << 20
	fewRows   = 20 // of a sheet that are looked at to tell whether it holds anything
)

// Book is an open workbook.
type Book struct {
	name  string
	f     *excelize.File
	zr    *zip.Reader
	parts map[string]string // of the sheets, by name
	epoch bool              // days count from 1904
	kinds map[int]kind      // of number formats, by style
}

// Open reads a workbook. raw is used where it can be read at any place, else br
// is copied into memory within lim. Close gives it up.
func Open(name string, raw io.Reader, br *bufio.Reader, lim unwrap.Limits) (*Book, error) {
	at, size, err := unwrap.RandomAccess(name, raw, br, lim)
	if err != nil {
		return nil, err
	}
	b := &Book{name: name, kinds: map[int]kind{}}
	if b.zr, err = zip.NewReader(at, size); err != nil {
		return nil, b.broken(err)
	}
	var total uint64
	for _, part := range b.zr.File {
		if total += part.UncompressedSize64; total > maxXML {
			return nil, b.fail(fmt.Sprintf("the workbook unpacks to more than %d MiB", maxXML>>20),
				"save the sheet as CSV, or in shorter periods")
		}
	}
	if total > ratioFrom && int64(total)/lim.Ratio > size {
		return nil, b.fail(fmt.Sprintf("the workbook unpacks to more than %d times its size, as none does", lim.Ratio),
			"save the sheet as CSV")
	}
	if b.parts, err = sheetParts(b.zr); err != nil {
		return nil, b.broken(err)
	}
	b.f, err = excelize.OpenReader(io.NewSectionReader(at, 0, size),
		excelize.Options{RawCellValue: true, UnzipSizeLimit: maxXML, UnzipXMLSizeLimit: inMemory})
	if err != nil {
		return nil, errors.Join(b.broken(err), b.Close())
	}
	if p, err := b.f.GetWorkbookProps(); err == nil && p.Date1904 != nil {
		b.epoch = *p.Date1904
	}
	return b, nil
}

// Close gives memory and temporary files up.
func (b *Book) Close() error {
	if b.f == nil {
		return nil
	}
	return b.f.Close()
}

func (b *Book) fail(what, do string) error {
	return &emit.FileError{File: b.name, What: what, Do: do}
}

func (b *Book) broken(why error) error {
	return b.fail(fmt.Sprintf("not a workbook that can be read (%v)", why), "open it and save it again, or as CSV")
}

// Sheets lists the sheets that hold two rows or more of two cells or more, in
// the order of the workbook.
func (b *Book) Sheets() []string {
	var out []string
	for _, s := range b.f.GetSheetList() {
		if b.parts[s] != "" && b.holds(s) {
			out = append(out, s)
		}
	}
	return out
}

func (b *Book) holds(sheet string) bool {
	rows, err := b.Rows(sheet, ".")
	if err != nil {
		return false
	}
	defer rows.Close()
	n := 0
	for range fewRows {
		cells, err := rows.Next()
		if err != nil {
			return false
		}
		filled := 0
		for _, c := range cells {
			if c != "" {
				filled++
			}
		}
		if filled > 1 {
			n++
		}
		if n > 1 {
			return true
		}
	}
	return false
}

// Pick gives the sheet to read: the one named, or the only one that holds
// anything.
func (b *Book) Pick(sheet string) (string, error) {
	all := b.Sheets()
	switch {
	case sheet != "" && b.parts[sheet] != "":
		return sheet, nil
	case sheet != "":
		return "", b.fail(fmt.Sprintf("the workbook has no sheet %q", sheet),
			"mend sheet; it has "+quoted(b.f.GetSheetList()))
	case len(all) == 0:
		return "", b.fail("no sheet of the workbook holds a table", "is it the right file?")
	case len(all) > 1:
		return "", b.fail("the workbook has several sheets that hold something: "+quoted(all),
			"write which to read under sheet")
	}
	return all[0], nil
}

func quoted(names []string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = fmt.Sprintf("%q", n)
	}
	return strings.Join(out, ", ")
}

// sheetParts finds the part of each worksheet by the sheet's name.
func sheetParts(zr *zip.Reader) (map[string]string, error) {
	var book struct {
		Sheets []struct {
			Name string     `xml:"name,attr"`
			Attr []xml.Attr `xml:",any,attr"` // the id's name space differs between writers
		} `xml:"sheets>sheet"`
	}
	if err := part(zr, "xl/workbook.xml", &book); err != nil {
		return nil, err
	}
	var rels struct {
		List []struct {
			ID     string `xml:"Id,attr"`
			Type   string `xml:"Type,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	if err := part(zr, "xl/_rels/workbook.xml.rels", &rels); err != nil {
		return nil, err
	}
	target := map[string]string{}
	for _, r := range rels.List {
		if strings.HasSuffix(r.Type, "/worksheet") {
			if t, absolute := strings.CutPrefix(r.Target, "/"); absolute {
				target[r.ID] = t
			} else {
				target[r.ID] = path.Join("xl", r.Target)
			}
		}
	}
	out := map[string]string{}
	for _, s := range book.Sheets {
		for _, a := range s.Attr {
			if a.Name.Local == "id" {
				out[s.Name] = target[a.Value]
			}
		}
	}
	return out, nil
}

const maxList = 4 << 20 // bytes of the lists of sheets and parts

func part(zr *zip.Reader, name string, into any) error {
	f, err := zr.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	return xml.NewDecoder(io.LimitReader(f, maxList)).Decode(into)
}
