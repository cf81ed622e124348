package points

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// told writes points in short.
func told(list []Point) (out []string) {
	for _, p := range list {
		out = append(out, fmt.Sprintf("%s|%s|%s|%v|%s", p.Series(), p.Field, p.Value, p.Text, p.Time))
	}
	return out
}

func TestLine(t *testing.T) {
	for line, want := range map[string][]string{
		`light,bay=b1 ppfd=812.5 1768298400`: {"light,bay=b1|ppfd|812.5|false|1768298400"},
		`light ppfd=812.5,n=7i,u=8u,on=t -5`: {"light|ppfd|812.5|false|-5", "light|n|7|false|-5", "light|u|8|false|-5",
			"light|on|t|true|-5"},
		`a\,b\ c,t\=1=x\ y f\,1="a, b=\"c\" d",g=1`: {`a,b c,t=1=x y|f,1|a, b=\"c\" d|true|`, "a,b c,t=1=x y|g|1|false|"},
		"  # remark": nil, "": nil,
	} {
		got, err := Line(line)
		if diff := cmp.Diff(want, told(got)); diff != "" || err != nil {
			t.Errorf("%s: %v %s", line, err, diff)
		}
	}
	for _, line := range []string{"light", "light ", ",a=b f=1", "light,a f=1", "light,=b f=1", "light f", "light f=",
		"light f= 5", `light f="a`, `light f="a"b`, "light f=1 now", "light f=1 5 6"} {
		if got, err := Line(line); err == nil {
			t.Errorf("%s: %v", line, told(got))
		}
	}
}

func TestMetric(t *testing.T) {
	for line, want := range map[string][]string{
		`ppfd{bay="b1",lamp="3",} 812.5 1768298400000`: {"ppfd,bay=b1,lamp=3|ppfd|812.5|false|1768298400000"},
		`a:b 1e3`:                      {"a:b|a:b|1e3|false|"},
		`x{y="a}\"b"} NaN 5`:           {`x,y=a}"b|x|NaN|false|5`},
		`x_total 5 1.5 # {id="q"} 1 2`: {"x_total|x_total|5|false|1.5"},
		"# TYPE x gauge":               nil, "# EOF": nil,
	} {
		got, err := Metric(line)
		if diff := cmp.Diff(want, told(got)); diff != "" || err != nil {
			t.Errorf("%s: %v %s", line, err, diff)
		}
	}
	for _, line := range []string{"x", "x{", `x{y="a} 1`, "x{y=a} 1", "2026-01-13 10:00 5", "x 1 2 3", "a,b 1",
		"20260113 812 1768298400"} {
		if got, err := Metric(line); err == nil {
			t.Errorf("%s: %v", line, told(got))
		}
	}
}

func annotatedOf(r io.Reader) (out, bad []string, err error) {
	err = Annotated(context.Background(), r, func(line int, p *Point) error {
		out = append(out, fmt.Sprint(line, " ", told([]Point{*p})[0]))
		return nil
	}, func(line int, why, _ string) error { bad = append(bad, fmt.Sprint(line, " ", why)); return nil })
	return out, bad, err
}

func TestAnnotated(t *testing.T) {
	const text = `#datatype,string,long,dateTime:RFC3339,double,string,string
#group,false,false,false,false,true,true
#default,_result,,,,ppfd,
,result,table,_time,_value,_field,bay
,,0,2026-01-13T10:00:00Z,1.5,,b1
,,0,2026-01-13T10:00:00Z,1.5
,result,table,_time,_value,_field,bay
,,1,2026-01-13T10:00:00Z,2,air,"b ""2"""

#datatype,string,long,dateTime:RFC3339,double,double,string
#group,false,false,false,false,false,true
#default,,,,,,
,result,table,_time,ppfd,air,bay
,,2,2026-01-13T10:15:00Z,3,,b1
`
	out, bad, err := annotatedOf(strings.NewReader(text))
	want := []string{
		"5 ,bay=b1|ppfd|1.5|false|2026-01-13T10:00:00Z", `8 ,bay=b "2"|air|2|false|2026-01-13T10:00:00Z`,
		"14 ,bay=b1|ppfd|3|false|2026-01-13T10:15:00Z", "14 ,bay=b1|air||false|2026-01-13T10:15:00Z",
	}
	if diff := cmp.Diff(want, out); diff != "" || err != nil {
		t.Error(err, diff)
	}
	if diff := cmp.Diff([]string{"6 5 cells where the header has 7"}, bad); diff != "" {
		t.Error(diff)
	}
}

type quotes struct{}

func (quotes) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = "\"x,\n"[i%3]
	}
	return len(p), nil
}

// TestQuoteWithoutEnd: a quote that is never closed does not fill the memory.
func TestQuoteWithoutEnd(t *testing.T) {
	_, _, err := annotatedOf(io.MultiReader(strings.NewReader("#group\n_time,a\n1,\""),
		strings.NewReader(strings.Repeat("x", 4*maxLine)), quotes{}))
	if !errors.Is(err, errTooLong) {
		t.Error(err)
	}
}

func FuzzPoints(f *testing.F) {
	f.Add(`light,bay=b1 ppfd=812.5,n=7i 1768298400`)
	f.Add(`ppfd{bay="b1"} 812.5 1768298400000`)
	f.Add("#group,true\n_time,a\n1,2\n")
	f.Fuzz(func(t *testing.T, text string) {
		for _, parse := range []Parse{Line, Metric} {
			list, err := parse(text)
			for _, p := range list {
				if err != nil || p.Field == "" {
					t.Fatalf("%q: %v %v", text, told(list), err)
				}
			}
		}
		_, _, _ = annotatedOf(strings.NewReader(text))
	})
}
