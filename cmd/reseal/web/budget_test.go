package web

import (
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"reseal/forecast"
	"reseal/inventory/store"
)

// projected has a projection made before a browser waits for it.
func projected(t testing.TB, s *Server, query string) *projection {
	t.Helper()
	v, err := url.ParseQuery(query)
	if err != nil {
		t.Fatal(err)
	}
	q, err := budgetAsked(v)
	if err != nil {
		t.Fatal(err)
	}
	for {
		p, at, err := s.projections.at(q).get(t.Context(), s)
		if err != nil {
			t.Fatal(err)
		}
		if at.IsZero() {
			return p
		}
	}
}

// The budget officer's whole task in a meeting: what if we get 20 % less?
func TestBudgetOfficersMeeting(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	projected(t, s, "")
	p := projected(t, s, "yearly=400000&years=6&levels=80")
	b := browse(t, address, laptop)
	text := func(selector string) string { return ask(b, chromedp.Text(css(selector))) }
	b.do(chromedp.Navigate(address+"/budget"), chromedp.WaitVisible(css(".means")))
	if got := text("main"); !strings.Contains(got, "No budget of these years is on record") {
		t.Errorf("the page does not say that the money is assumed: %s", got)
	}
	b.do(chromedp.SendKeys(css("#yearly"), "400,000"), chromedp.Evaluate[chromedp.Void](`document.getElementById("levels").select()`),
		chromedp.SendKeys(css("#levels"), "80"), chromedp.Evaluate[chromedp.Void](`document.getElementById("years").select()`), chromedp.SendKeys(css("#years"), "6"))
	b.follow(".filter button")
	want := p.Levels[0].Against(p.base(), 2032)
	if got := text(".means li"); got != want || !strings.HasPrefix(got, "20 % less money leaves ") || !strings.Contains(got, "by the end of 2032") || !strings.Contains(got, "in the end.") {
		t.Errorf("got %q, want %q", got, want)
	}
	b.axe()
	levels := text(".levels tbody")
	for _, want := range []string{"80 %", "100 %", "no limit"} {
		if !strings.Contains(levels, want) {
			t.Errorf("the levels have no %q: %s", want, levels)
		}
	}
	for _, file := range []string{"years.csv", "levels.csv", "levels.xlsx"} {
		link := ask(b, chromedp.Evaluate[string](`[...document.querySelectorAll("a[download]")].find(a => a.textContent === "`+file+`").href`))
		status, _, body := get(t, link)
		if status != http.StatusOK || file == "levels.csv" && !strings.Contains(body, "\n80 %,") || file == "years.csv" && !strings.Contains(body, "\nall districts,2032,") {
			t.Errorf("%s: got %d %.300s", file, status, body)
		}
	}

	compareTwo(s, b, address)
	if got := text("main"); !strings.Contains(got, "treated differently") || !strings.Contains(got, "2027") {
		t.Errorf("the plans are not compared: %s", got)
	}
	b.axe()
	b.picture("plans-laptop")
	projected(t, s, "yearly=400000&years=6&levels=80")
	if status, body := postForm(t, address+"/budget/keep", "yearly", "400000", "years", "6", "levels", "80", "level", "80 %", "name", "at 80 %"); status != 422 || !strings.Contains(body, "was kept") {
		t.Errorf("a name that a plan has: got %d %.300s", status, body)
	}
}

func TestBudgetLooks(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	projected(t, s, "")
	b := browse(t, address, laptop)
	for name, size := range map[string][2]int64{"phone": phone, "laptop": laptop} {
		b.do(chromedp.EmulateViewport(size[0], size[1]))
		for _, scheme := range []string{"light", "dark"} {
			b.scheme(scheme)
			b.do(chromedp.Navigate(address+"/budget"), chromedp.WaitVisible(css(".means")))
			b.axe()
			b.whole("budget-" + name + "-" + scheme)
		}
		if wider := ask(b, chromedp.Evaluate[bool]("document.documentElement.scrollWidth > innerWidth")); wider {
			t.Errorf("%s: the page is wider than its screen", name)
		}
	}
}

func TestBudgetRefusals(t *testing.T) {
	_, address := serveSample(t)
	for name, c := range map[string]struct {
		path   string
		status int
		want   string
	}{
		"too long":     {"/budget?years=99", 422, "is not a number of years"},
		"no money":     {"/budget?yearly=-5", 422, "is not the money of a year"},
		"no level":     {"/budget?levels=half", 422, "levels are"},
		"no such file": {"/budget/export/years.pdf", 404, "there is no file"},
	} {
		t.Run(name, func(t *testing.T) {
			if status, _, body := get(t, address+c.path); status != c.status || !strings.Contains(body, c.want) {
				t.Errorf("got %d %s, want %d and %q", status, body, c.status, c.want)
			}
		})
	}
}

// compareTwo keeps the plans of two levels of money and lays them side by side.
func compareTwo(s *Server, b *tab, address string) {
	b.Helper()
	for _, level := range []string{"80 %", "100 %"} {
		projected(b.TB, s, "yearly=400000&years=6&levels=80") // keeping a plan makes it old
		b.do(chromedp.Navigate(address+"/budget?yearly=400,000&years=6&levels=80"), chromedp.SetValue(css("#level"), level), chromedp.SendKeys(css("#keep-name"), "at "+level))
		b.follow("#keep button")
	}
	b.do(chromedp.SetValue(css("#a"), "at 80 %"), chromedp.SetValue(css("#b"), "at 100 %"))
	b.follow(".filter button")
}

// wholeExports checks that the exports tell as much of the need and of the plan.
func wholeExports(t *testing.T, address, query string, p *projection) {
	t.Helper()
	rows := func(file string) (out []map[string]string) {
		_, _, body := get(t, address+"/budget/export/"+file+"?"+query)
		all, err := csv.NewReader(strings.NewReader(body)).ReadAll()
		if err != nil || len(all) < 2 {
			t.Fatalf("%s: %v, %s", file, err, body)
		}
		for _, cells := range all[1:] {
			row := map[string]string{}
			for i, name := range all[0] {
				row[name] = cells[i]
			}
			out = append(out, row)
		}
		return out
	}
	need, planned := 0.0, 0.0
	for _, row := range rows("years.csv") {
		if row["district"] != "all districts" {
			continue
		}
		n, _ := strconv.ParseFloat(row["whole_bridge_nominal_usd"], 64)
		d, _ := strconv.ParseFloat(row["planned_whole_bridge_nominal_usd"], 64)
		need, planned = need+n, planned+d
	}
	all := p.Budget.Network[len(p.Budget.Network)-1].Whole
	jobs, cost := p.base().WholeBridges()
	if math.Abs(need-float64(all.Cost)/100) > 0.1 || math.Abs(planned-float64(cost)/100) > 0.1 || cost == 0 {
		t.Errorf("years.csv adds up to %.2f and %.2f, want %.2f and %.2f", need, planned, float64(all.Cost)/100, float64(cost)/100)
	}
	if row := rows("levels.csv")[p.baseAt()]; row["whole_bridge_jobs"] != strconv.Itoa(jobs) || row["whole_bridge_nominal_usd"] != fmt.Sprintf("%.2f", float64(cost)/100) {
		t.Errorf("levels.csv: got %v, want %d jobs for %d cents", row, jobs, cost)
	}
}

// Quantities for a whole bridge are told apart by year, and only where there are
// any.
func TestBudgetTellsWholeBridges(t *testing.T) {
	s, address := serveSample(t)
	const said = "Quantities for a whole bridge"
	const query = "yearly=400000&years=3&levels=100"
	err := s.Store.Update(t.Context(), "test", func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE joints SET scope = 'bridge quantity' WHERE id % 2 = 0")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	whole := forecast.WholeRows(projected(t, s, query).Budget.Network, nil)
	all := whole[len(whole)-1].Need
	_, _, body := get(t, address+"/budget?"+query)
	if want := thousands(int(math.Round(all.Feet))) + `</td><td class="number">` + dollars(all.Cost); !strings.Contains(body, said) || all.None() || !strings.Contains(body, want) {
		t.Errorf("the page lacks %q", want)
	}
	wholeExports(t, address, query, projected(t, s, query))
	err = s.Store.Update(t.Context(), "test", func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE joints SET scope = 'joint'")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	projected(t, s, query)
	if _, _, body := get(t, address+"/budget?"+query); strings.Contains(body, said) {
		t.Error("the page tells of whole bridges where there are none")
	}
}
