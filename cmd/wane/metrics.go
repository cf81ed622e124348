package main

import (
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// metrics serves what scrapers read of a site: each time it is asked, as health is.
func metrics(o *opened, e env) http.Handler {
	r := prometheus.NewRegistry()
	r.MustRegister(&siteMetrics{look: func() *health { return healthOf(o, e.now()) }})
	return promhttp.HandlerFor(r, promhttp.HandlerOpts{})
}

// siteMetrics are the figures of a site's health.
type siteMetrics struct{ look func() *health }

// Describe says nothing beforehand: which figures there are depends on the site.
func (*siteMetrics) Describe(chan<- *prometheus.Desc) {}

// Collect gives the figures as they now are.
func (m *siteMetrics) Collect(out chan<- prometheus.Metric) {
	h := m.look()
	p := putter{out}
	p.put("wane_healthy", "1 where /health is 200.", truth(len(h.faults) == 0))
	if h.parts != nil {
		if h.read {
			p.put("wane_days_behind", "Days between the last day read and yesterday.", float64(h.behind))
		}
		p.put("wane_files_taken_in", "Files taken in.", float64(h.files))
		p.put("wane_rows", "Rows of all files.", float64(h.counts.Rows))
		p.put("wane_rows_stored", "Rows stored.", float64(h.counts.Stored))
		p.put("wane_rows_duplicate", "Rows that were stored before.", float64(h.counts.Duplicate))
		p.put("wane_rows_quarantined", "Rows in quarantine.", float64(h.counts.Quarantined))
		for _, t := range sortedKeys(h.parts) {
			p.put("wane_parts", "Parts of a table.", float64(h.parts[t]), "table", t)
		}
	}
	if n := h.night; h.nights {
		p.at("wane_night_start_seconds", "When the last night began, since 1970.", n.Start)
		p.at("wane_night_end_seconds", "When the last night ended, since 1970.", n.End)
		if !n.End.IsZero() {
			p.put("wane_night_exit", "Exit status of the last night: 0 done, 3 something needs a person.", float64(n.Exit))
		}
		p.put("wane_night_rows", "Rows of the files of the last night.", float64(n.Rows))
		p.put("wane_night_rows_quarantined", "Rows of the last night that went to quarantine.", float64(n.Quarantined))
		p.put("wane_night_questions", "What waited for a person after the last night.", float64(n.Questions))
	}
	if h.checked {
		p.at("wane_check_seconds", "When the archive was last checked as a whole, since 1970.", h.check.At)
		p.put("wane_check_findings", "Damaged places that the last check found.", float64(h.check.Findings))
	}
	for _, s := range h.sources {
		p.at("wane_source_success_seconds", "When a source was last collected well, since 1970.",
			s.Succeeded, "source", s.Source)
		p.at("wane_source_reading_seconds", "When something came from a source last, since 1970.",
			s.LastReading, "source", s.Source)
		p.put("wane_source_readings", "Readings that came from a source, known ones too.",
			float64(s.Readings), "source", s.Source)
		p.put("wane_source_rejects", "Rows of a source that went or will go to quarantine.",
			float64(s.Rejects), "source", s.Source)
		p.put("wane_source_missed", "Polls of a source that did not happen or failed.", float64(s.Missed), "source", s.Source)
		p.put("wane_source_failures", "Tries of a source that failed in a row.", float64(s.Failures), "source", s.Source)
		p.put("wane_source_gap", "1 while nothing is collected from a source.", truth(s.Open() != nil), "source", s.Source)
	}
}

type putter struct{ out chan<- prometheus.Metric }

// put gives one figure, with the name and value of its label where it has one.
func (p putter) put(name, help string, v float64, label ...string) {
	var names, values []string
	if len(label) == 2 {
		names, values = label[:1], label[1:]
	}
	p.out <- prometheus.MustNewConstMetric(prometheus.NewDesc(name, help, names, nil), prometheus.GaugeValue, v, values...)
}

// at gives a moment, where there is one.
func (p putter) at(name, help string, t time.Time, label ...string) {
	if !t.IsZero() {
		p.put(name, help, float64(t.Unix()), label...)
	}
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
