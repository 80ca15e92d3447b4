package backtest

import (
	"fmt"
	"strings"
)

// words say where the model is better than its rivals and where it is not.
func (r *Result) words() []string {
	var words []string
	all := r.Groups[0]
	for f, row := range all.Rows {
		if f == Model {
			continue
		}
		if row.Cases == 0 {
			words = append(words, fmt.Sprintf("%q has no forecast of any case", row.Forecaster))
			continue
		}
		words = append(words, row.LogGain.words, row.BrierGain.words)
		if w := r.elsewhere(f, row.LogGain.Verdict); w != "" {
			words = append(words, w)
		}
	}
	return append(words, r.calibrationWords()...)
}

// elsewhere lists the groups in which the verdict on a rival is another than
// over all, by log score.
func (r *Result) elsewhere(f int, overall string) string {
	verdicts := map[string][]string{}
	for _, g := range r.Groups[1:] {
		if gain := g.Rows[f].LogGain; gain != nil && gain.Verdict != overall {
			verdicts[gain.Verdict] = append(verdicts[gain.Verdict], fmt.Sprintf("%s %s", g.By, g.Name))
		}
	}
	var parts []string
	for _, v := range []struct{ verdict, text string }{
		{"better", "the model is better at %s"}, {"worse", "the model is worse at %s: do not use it there"}, {"cannot tell", "no difference can be told at %s"},
	} {
		if where := verdicts[v.verdict]; len(where) > 0 {
			parts = append(parts, fmt.Sprintf(v.text, strings.Join(where, ", ")))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return fmt.Sprintf("against %q by log score: %s", r.Forecasters[f], strings.Join(parts, "; "))
}

// calibrationWords say where as many failed as was said, and where not.
func (r *Result) calibrationWords() []string {
	var off []string
	used := 0
	for _, d := range r.Calibration {
		if d.Cases == 0 {
			continue
		}
		used++
		if d.Fits {
			continue
		}
		how := "fewer"
		if d.Lower > d.Forecast {
			how = "more"
		}
		off = append(off, fmt.Sprintf("of %d said to fail with %.0f %%, %.0f %% did, %s than said", d.Cases, 100*d.Forecast, 100*d.Observed, how))
	}
	unknown := ""
	if r.Unseen > 0 {
		unknown = fmt.Sprintf(", whatever became of the %d at which nobody can tell", r.Unseen)
	}
	if len(off) == 0 {
		return []string{fmt.Sprintf("calibration: as many failed as was said, within chance, in all %d tenths that have cases%s", used, unknown)}
	}
	words := []string{fmt.Sprintf("calibration: in %d of %d tenths that have cases it was not as said, taking cases as independent%s", len(off), used, unknown)}
	return append(words, off...)
}
