package stamp

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func parse(t *testing.T, pattern, zone, text string) (Moment, *Error) {
	t.Helper()
	f, err := Compile(pattern)
	if err != nil {
		t.Fatal(err)
	}
	z := UTC
	if zone != "" {
		if z, err = ZoneOf(zone); err != nil {
			t.Fatal(err)
		}
	}
	return NewParser(f, z).Parse([]byte(text))
}

func TestPatterns(t *testing.T) {
	for _, c := range []struct{ pattern, zone, text, want string }{
		{"yyyy-MM-dd HH:mm:ss", "", "2026-02-28 23:59:59", "2026-02-28T23:59:59Z"},
		{"yyyy-MM-dd HH:mm", "", "2026-02-28   23:59", "2026-02-28T23:59:00Z"},
		{"yyyy-MM-dd HH:mm", "", "2026-02-28 24:00", "2026-03-01T00:00:00Z"},
		{"rfc3339", "", "2026-02-28T24:00:00Z", "2026-03-01T00:00:00Z"},
		{"rfc3339", "", "2026-12-31T24:00:00.000+01:00", "2026-12-31T23:00:00Z"},
		{"dd.MM.yyyy HH:mm", "+01:00", "01.03.2026 00:30", "2026-02-28T23:30:00Z"},
		{"M/d/yyyy h:mm a", "America/New_York", "7/4/2026 12:05 a.m.", "2026-07-04T04:05:00Z"},
		{"M/d/yyyy h:mm:ss a", "UTC", "12/31/2026 12:00:01 PM", "2026-12-31T12:00:01Z"},
		{"yy-MM-dd", "", "69-01-02", "2069-01-02T00:00:00Z"},
		{"yy-MM-dd", "", "70-01-02", "1970-01-02T00:00:00Z"},
		{"d MMM yyyy HH:mm", "", "5 Sept 2026 07:00", "2026-09-05T07:00:00Z"},
		{"yyyy DDD HHmm", "", "2024 366 5", "2024-12-31T00:05:00Z"},
		{"yyyy DDD HHmm", "", "2026 1 2400", "2026-01-02T00:00:00Z"},
		{"yyyyMMddHHmmss", "", "20260301123456", "2026-03-01T12:34:56Z"},
		{"yyyyMMddHHmm", "", "202603011234", "2026-03-01T12:34:00Z"},
		{"yyyy-MM-dd'T'HH:mm:ss.SSS", "", "2026-03-01T12:34:56.5", "2026-03-01T12:34:56.5Z"},
		{"yyyy-MM-dd HH:mm[:ss]", "", "2026-03-01 12:34", "2026-03-01T12:34:00Z"},
		{"yyyy-MM-dd HH:mm[:ss]", "", "2026-03-01 12:34:07", "2026-03-01T12:34:07Z"},
		{"yyyy-MM-dd HH'h'mm", "", "2026-03-01 12h34", "2026-03-01T12:34:00Z"},
		{"yyyy-MM-dd HH:mm XXX", "", "2026-03-01 12:34 -03:30", "2026-03-01T16:04:00Z"},
		{"rfc3339", "", "2026-03-01T12:34:56.123456789+01:00", "2026-03-01T11:34:56.123456Z"},
		{"rfc3339", "", "2026-03-01T12:34:56Z", "2026-03-01T12:34:56Z"},
		{"epoch-s", "", "1768298400.25", "2026-01-13T10:00:00.25Z"},
		{"epoch-ms", "", "1768298400001", "2026-01-13T10:00:00.001Z"},
		{"yyyy-MM-dd HH:mm", "Europe/Amsterdam", "2026-07-01 12:00", "2026-07-01T10:00:00Z"},
		{"epoch-us", "", "1768298400000001", "2026-01-13T10:00:00.000001Z"},
		{"epoch-ns", "", "1768298400000001999", "2026-01-13T10:00:00.000001Z"},
		{"serial-days", "", "45000.5", "2023-03-15T12:00:00Z"}, // 45000 is 2023-03-15, as spreadsheets show it
		{"serial-days", "Europe/Amsterdam", "46204.520833333336", "2026-07-01T10:30:00Z"},
		{"yyyy-MM-dd HH:mm:ss z", "", "2026-07-01 12:00:00 CEST", "2026-07-01T10:00:00Z"},
		{"yyyy-MM-dd HH:mm:ss z", "", "2026-07-01 12:00:00 CEST+0200", "2026-07-01T10:00:00Z"},
		{"yyyy-MM-dd HH:mm:ss z", "", "2026-07-01 12:00:00 UTC", "2026-07-01T12:00:00Z"},
		{"MM/dd/yyyy HH:mm z", "", "07/01/2026 12:00 EST", "2026-07-01T17:00:00Z"},
		{"yyyy-MM-dd HH:mm z", "", "2026-07-01 12:00 GMT-3", "2026-07-01T15:00:00Z"},
		{"yyyy-MM-dd'T'HH:mm:ssX/*", "", "2026-07-01T12:00:00Z/2026-07-01T12:15:00Z", "2026-07-01T12:00:00Z"},
		{"*/yyyy-MM-dd'T'HH:mm:ssX", "", "2026-07-01T12:00:00Z/2026-07-01T12:15:00Z", "2026-07-01T12:15:00Z"},
		{"dd.MM.yyyy HH:mm - *", "", "01.07.2026 12:00 - 12:15", "2026-07-01T12:00:00Z"},
		{"dd.MM.yyyy * - HH:mm", "", "01.07.2026 12:00 - 12:15", "2026-07-01T12:15:00Z"},
		{"EEE, d. MMM yyyy HH:mm", "", "Mi., 1. Juli 2026 12:00", "2026-07-01T12:00:00Z"},
		{"d MMM yyyy", "", "15 janv. 2026", "2026-01-15T00:00:00Z"},
		{"d MMM yyyy", "", "15 août 2026", "2026-08-15T00:00:00Z"},
		{"d-MMM-yy", "", "15-Mrz-26", "2026-03-15T00:00:00Z"},
		{"dd.MM.yyyy hh:mm a", "", "01.07.2026 12:05 nachm.", "2026-07-01T12:05:00Z"},
		{"dd/MM/yyyy h:mm a", "", "01/07/2026 2:05 p. m.", "2026-07-01T14:05:00Z"},
		{"dd/MM/yyyy h:mm a", "", "01/07/2026 2:05\u00a0a.\u00a0m.", "2026-07-01T02:05:00Z"},
		{"yyyy/M/d ah:mm", "", "2026/7/1 下午3:05", "2026-07-01T15:05:00Z"},
		{"dd/MM/yyyy h:mm:ss a", "", "01/07/2026 3:05:00 CH", "2026-07-01T15:05:00Z"},
		{"d MMM yyyy", "", "15 marraskuuta 2026", "2026-11-15T00:00:00Z"},
		{"d MMM yyyy", "", "15 Ağustos 2026", "2026-08-15T00:00:00Z"},
		{"d MMM yyyy", "", "15 июля 2026", "2026-07-15T00:00:00Z"},
		{"d MMM yyyy", "", "15 czerwca 2026", "2026-06-15T00:00:00Z"},
		{"d MMM yyyy", "", "15 lipca 2026", "2026-07-15T00:00:00Z"},
		{"epoch-ms", "", "/Date(1782864000000)/", "2026-07-01T00:00:00Z"},
		{"serial-days", "", "45000,5", "2023-03-15T12:00:00Z"},
		{"serial-days", "", "46108.541667", "2026-03-27T13:00:00Z"}, // 13:00:00.03, and its digits are 0.09 s apart
		{"serial-days", "", "46108.54167", "2026-03-27T13:00:00Z"},
		{"serial-days", "", "46108.54166667", "2026-03-27T13:00:00Z"},
		{"serial-days", "", "46108.5000058", "2026-03-27T12:00:00.5Z"},
		{"EEE MMM d HH:mm:ss z yyyy", "", "Wed Jul  1 12:00:00 CEST 2026", "2026-07-01T10:00:00Z"},
		{"epoch-ms", "", "/Date(1782864000000+0200)/", "2026-07-01T00:00:00Z"},
	} {
		m, err := parse(t, c.pattern, c.zone, c.text)
		if err != nil || !m.Resolved {
			t.Errorf("%s %q: %v %+v", c.pattern, c.text, err, m)
			continue
		}
		if got := time.UnixMicro(m.UTC).UTC().Format(time.RFC3339Nano); got != c.want {
			t.Errorf("%s %q: %s, want %s", c.pattern, c.text, got, c.want)
		}
	}
}

func TestBadStamps(t *testing.T) {
	for _, c := range []struct{ pattern, text string }{
		{"yyyy-MM-dd HH:mm", "2026-02-29 10:00"}, {"yyyy-MM-dd HH:mm", "2026-13-01 10:00"},
		{"yyyy-MM-dd HH:mm", "2026-01-00 10:00"},
		{"yyyy-MM-dd HH:mm", "2026-01-01 24:01"}, {"yyyy-MM-dd HH:mm", "2026-01-01 10:60"},
		{"yyyy-MM-dd HH:mm", "2026-01-01 10:00:00"},
		{"yyyy-MM-dd HH:mm", "2026-1-01 10:00"}, {"yyyy-MM-dd HH:mm", ""}, {"yyyy-MM-dd HH:mm", "0000-01-01 10:00"},
		{"M/d/yyyy h:mm a", "1/1/2026 13:00 PM"}, {"M/d/yyyy h:mm a", "1/1/2026 0:30 AM"},
		{"M/d/yyyy h:mm a", "1/1/2026 1:30"},
		{"yyyy DDD HHmm", "2026 366 0"}, {"yyyy DDD HHmm", "2026 0 0"}, {"yyyy DDD HHmm", "2026 1 1260"},
		{"epoch-s", "-5"}, {"epoch-s", "1e9"}, {"epoch-s", "1."}, {"epoch-s", "99999999999999999999"},
		{"epoch-ms", "9223372036854775807"}, {"epoch-s", "1768298400001234"}, {"epoch-ns", "9223372036854775808"},
		{"epoch-us", "-1"},
		{"epoch-s", "/Date(1782864000)/"}, {"epoch-ms", "/Date(1782864000000)"}, {"d MMM yyyy", "15 listopada 2026"}, {"d MMM yyyy", "15 lipnja 2026"},
		{"serial-days", "60"}, {"serial-days", "-45000"}, {"serial-days", "nan"}, {"serial-days", "4.5e4"},
		{"serial-days", "2958466"}, {"serial-days", ""},
		{"yyyy-MM-dd HH:mm z", "2026-07-01 12:00 CST"}, {"yyyy-MM-dd HH:mm z", "2026-07-01 12:00 Uhr"},
		{"yyyy-MM-dd HH:mm z", "2026-07-01 12:00 "}, {"d MMM yyyy", "1 Mxx 2026"}, {"d MMM yyyy", "1 xyz 2026"},
		{"rfc3339", "2026-03-01T12:34:56"}, {"rfc3339", "2026-03-01T12:34:56+25:00"}, {"rfc3339", "2026-03-01T12:34:56.Z"},
	} {
		if m, err := parse(t, c.pattern, "", c.text); err == nil || err.Code != "bad-time" {
			t.Errorf("%s %q accepted: %+v %v", c.pattern, c.text, m, err)
		}
	}
}

func TestBadPatterns(t *testing.T) {
	for _, p := range []string{"", "yyyy", "HH:mm", "dd.mm.yyyy", "yyyy-MM-dd hh:mm", "yyyy-MM-dd HH:mm a",
		"yyyy-MM-dd QQ", "yyyy-MM-dd MM", "yyyy DDD dd", "yyyy-MM-dd [HH:mm", "yyyy-MM-dd HH]", "yyyy-MM-dd 'T",
		"yyyy-MM-dd[HH]", "yyyy-MM-dd *HH", strings.Repeat("-", 200)} {
		if _, err := Compile(p); err == nil {
			t.Errorf("%q accepted", p)
		}
	}
}

func TestZones(t *testing.T) {
	for text, want := range map[string]int{"Z": 0, "utc": 0, "GMT": 0, "+1": 3600, "+01:00": 3600, "-0330": -12600,
		"UTC+2": 7200, "GMT-03:30": -12600, "+14": 50400} {
		if got, ok := ParseOffset(text); !ok || got != want {
			t.Errorf("%q: %d %v", text, got, ok)
		}
	}
	for _, text := range []string{"", "Local", "local", "Europe/Nowhere", "+15", "+01:75", "CEST2", "../etc/passwd"} {
		if _, err := ZoneOf(text); err == nil {
			t.Errorf("%q accepted", text)
		}
	}
	for text, want := range map[string]int{"Date Time, GMT+02:00": 7200, "clock: UTC": 0, "Time (UTC -5)": -18000,
		"exported, gmt-03:30, unit 4": -12600, "# offset: +01:00": 3600, "Offset;-05:00": -18000} {
		if got, ok := OffsetIn(text); !ok || got != want {
			t.Errorf("%q: %d %v", text, got, ok)
		}
	}
	for _, text := range []string{"Time, PAR, autumn", "offset: +0.05", "offset +12"} {
		if _, ok := OffsetIn(text); ok {
			t.Errorf("%q: an offset was seen where none is", text)
		}
	}
}

// TestAgainstTimePackage formats random moments with the standard library and
// reads them back with one parser, whose memory of the last day must not matter.
func TestAgainstTimePackage(t *testing.T) {
	zones := []string{"Europe/Amsterdam", "America/Sao_Paulo", "Australia/Lord_Howe", "Asia/Kathmandu", "America/St_Johns",
		"Africa/Cairo", "Pacific/Apia", "+05:45"}
	layouts := [][2]string{{"yyyy-MM-dd HH:mm:ss", "2006-01-02 15:04:05"}, {"d.M.yyyy H:mm:ss", "2.1.2006 15:04:05"},
		{"MM/dd/yyyy hh:mm:ss a", "01/02/2006 03:04:05 PM"},
		{"dd-MMM-yyyy HH:mm:ss", "02-Jan-2006 15:04:05"}, {"yyyyMMddHHmmss", "20060102150405"},
		{"HH:mm:ss dd/MM/yyyy", "15:04:05 02/01/2006"}}
	rapid.Check(t, func(rt *rapid.T) {
		name := rapid.SampledFrom(zones).Draw(rt, "zone")
		z, err := ZoneOf(name)
		if err != nil {
			rt.Fatal(err)
		}
		l := rapid.SampledFrom(layouts).Draw(rt, "layout")
		f, err := Compile(l[0])
		if err != nil {
			rt.Fatal(err)
		}
		p := NewParser(f, z)
		var folds Folds
		at := rapid.Int64Range(946684800, 2051222400).Draw(rt, "start")
		last := int64(NotSeen)
		for range 40 {
			at += rapid.Int64Range(1, 4000).Draw(rt, "step")
			local := time.Unix(at, 0).In(z.loc)
			m, perr := p.Parse([]byte(local.Format(l[1])))
			if perr != nil {
				rt.Fatal(perr)
			}
			utc := m.UTC / 1e6
			if !m.Resolved {
				// Steps of more than the repeated hour could skip its first pass.
				if z.Twice(m.Local) {
					last = at
					continue
				}
				if utc, perr = folds.Place(z, 0, m.Local, last, false); perr != nil {
					rt.Fatal(perr)
				}
			}
			if utc != at {
				rt.Fatalf("%s in %s: %d, want %d", local, name, utc, at)
			}
			last = at
		}
	})
}

// TestEveryTransition walks through every change of clocks of some zones from
// 2000 to 2030 in steps of ten minutes, both ways: order alone must bring every
// stamp back to its moment.
func TestEveryTransition(t *testing.T) {
	for _, name := range []string{"Europe/Amsterdam", "America/Chicago", "Australia/Lord_Howe", "America/St_Johns",
		"Africa/Cairo", "Asia/Gaza", "America/Sao_Paulo"} {
		z, err := ZoneOf(name)
		if err != nil {
			t.Fatal(err)
		}
		changes := 0
		for at := int64(946684800); at < 1893456000; at += 6 * 3600 {
			if z.Offset(at) == z.Offset(at+6*3600) {
				continue
			}
			changes++
			for _, dir := range []int64{1, -1} {
				var folds Folds
				last := int64(NotSeen)
				for k := int64(-30); k <= 70; k++ {
					want := at + k*600
					if dir < 0 {
						want = at + (40-k)*600
					}
					got, perr := folds.Place(z, 0, want+z.Offset(want), last, dir < 0)
					if perr != nil || got != want {
						t.Fatalf("%s, %s, direction %d: %d %v", name, time.Unix(want, 0).UTC(), dir, got-want, perr)
					}
					last = got
				}
			}
		}
		if changes < 10 {
			t.Errorf("%s: only %d changes were tried", name, changes)
		}
	}
}

func TestGapIsNoTime(t *testing.T) {
	z, _ := ZoneOf("Europe/Amsterdam")
	var folds Folds
	gap := time.Date(2026, 3, 29, 2, 15, 0, 0, time.UTC).Unix()
	if _, err := folds.Place(z, 0, gap, NotSeen, false); err != ErrGap {
		t.Error(err)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range [][2]string{{"yyyy-MM-dd HH:mm:ss", "2026-01-05 10:00:00"}, {"M/d/yyyy h:mm a", "1/5/2026 1:00 PM"},
		{"yyyy DDD HHmm", "2026 5 930"}, {"epoch-s", "1768298400.5"}, {"rfc3339", "2026-01-05T10:00:00.5+01:00"},
		{"yyyyMMdd[ HH][:mm]", "20260105 10"}} {
		f.Add(s[0], s[1], s[1])
	}
	amsterdam, _ := ZoneOf("Europe/Amsterdam")
	f.Fuzz(func(t *testing.T, pattern, a, b string) {
		fm, err := Compile(pattern)
		if err != nil {
			return
		}
		// What was read before must not change what a stamp says.
		fresh, ferr := NewParser(fm, amsterdam).Parse([]byte(b))
		used := NewParser(fm, amsterdam)
		_, _ = used.Parse([]byte(a))
		again, aerr := used.Parse([]byte(b))
		if fresh != again || (ferr == nil) != (aerr == nil) {
			t.Fatalf("%q: %+v %v fresh, %+v %v after %q", b, fresh, ferr, again, aerr, a)
		}
	})
}
