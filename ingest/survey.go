package ingest

import (
	"bytes"
	"fmt"
	"io"

	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/ingest/surveysheet"
	"wane/transform/survey"
)

// SurveySource is the source of survey sheets in the table of files. Surveys
// reads them again from the originals, which hold more than a value a spot.
const SurveySource = "survey sheet"

// SurveySensor is the sensor under which the spots of surveys stand among the
// readings, so that they obey the same law as all else: nothing twice, nothing
// lost, another value for the same spot is a conflict. The channel names
// survey, fixture, height, row and column.
const SurveySensor = "canopy survey"

// surveyRows gives a survey sheet's spots and rejects to the sink.
func surveyRows(r io.Reader, sink *archive.Sink) error {
	res, err := surveysheet.ParsePlain(r)
	if err != nil {
		return sink.Reject(reading.Reject{Code: archive.CodeWholeFile, Reason: err.Error()})
	}
	var b reading.Batch
	for _, s := range res.Surveys {
		for _, p := range s.Spots {
			v, ok := reading.Of(p.PPFD)
			if !ok {
				continue // ParsePlain refuses what is not a number
			}
			b.Series = append(b.Series, reading.Series{Sensor: SurveySensor,
				Channel: fmt.Sprintf("%s %s %gm r%dc%d", s.ID, s.Fixture, s.HeightM, p.Row, p.Col)})
			b.Add(int32(len(b.Series)-1), s.TakenAt.UnixMicro(), v, 0)
		}
	}
	if err := sink.Readings(&b); err != nil {
		return err
	}
	for _, x := range res.Rejects {
		if err := sink.Reject(reading.Reject{Line: x.Line, Code: "bad-survey", Reason: x.Reason}); err != nil {
			return err
		}
	}
	return nil
}

// Surveys reads every canopy survey that was imported, in the order of taking
// in. A survey that stands in several sheets is given once a sheet.
func Surveys(a *archive.Archive) ([]survey.Survey, error) {
	files, err := a.Files()
	if err != nil {
		return nil, err
	}
	var out []survey.Survey
	for i := range files {
		f := &files[i]
		if f.Source != SurveySource {
			continue
		}
		b, err := a.ReadOriginal(f)
		if err != nil {
			return nil, err
		}
		got, err := surveysheet.ParsePlain(bytes.NewReader(b))
		if err != nil {
			return nil, fmt.Errorf("survey sheet %s: %w", f.Name, err)
		}
		out = append(out, got.Surveys...)
	}
	return out, nil
}
