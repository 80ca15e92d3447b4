package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"reseal/forecast"
	"reseal/inventory/store"
)

// approveList keeps the list of 2027 for $200,000 under a name.
func approveList(t testing.TB, s *Server, name string) []forecast.Job {
	t.Helper()
	list, err := ranked(t, s).In("", "", 20_000_000)
	if err != nil {
		t.Fatal(err)
	}
	err = s.Store.Update(t.Context(), "Alder", func(ctx context.Context, tx *store.Tx) error {
		return list.Approve(ctx, tx, name, s.today())
	})
	if err != nil {
		t.Fatal(err)
	}
	return jobsOf(t, s, name)
}

func jobsOf(t testing.TB, s *Server, list string) []forecast.Job {
	t.Helper()
	jobs, err := forecast.Jobs(t.Context(), s.Store.Read(), forecast.JobFilter{List: list})
	if err != nil {
		t.Fatal(err)
	}
	return jobs
}

// A list's jobs go from approved to paid on the page as they do by commands;
// what cannot be changes nothing, and says what can.
func TestJobsGoTheirWay(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	approveList(t, s, "FY27")
	move := func(wantStatus int, want string, chosen []int, values ...string) {
		t.Helper()
		now := jobsOf(t, s, "FY27")
		form := url.Values{"list": {"FY27"}}
		for _, i := range chosen {
			form.Add("job", strconv.FormatInt(now[i].ID, 10))
			form.Set("seen-"+strconv.FormatInt(now[i].ID, 10), string(now[i].ChangedAt))
		}
		for i := 0; i+1 < len(values); i += 2 {
			form.Set(values[i], values[i+1])
		}
		r, err := http.PostForm(address+"/worklist/approved/move", form)
		if err != nil {
			t.Fatal(err)
		}
		status, _, page := answer(t, r)
		if status != wantStatus || !strings.Contains(page, want) {
			_, page, _ = strings.Cut(page, "<main")
			t.Errorf("%v %v: got %d %.1500s, want %d and %q", chosen, values, status, page, wantStatus, want)
		}
		if status != http.StatusOK {
			for i, j := range jobsOf(t, s, "FY27") {
				if j.ChangedAt != now[i].ChangedAt {
					t.Errorf("%v: refused, and job %s was changed", values, j.Tag)
				}
			}
		}
	}
	states := func(want ...string) {
		t.Helper()
		for i, j := range jobsOf(t, s, "FY27")[:len(want)] {
			if j.Progress != want[i] {
				t.Errorf("job %d is %s, want %s", i+1, j.Progress, want[i])
			}
		}
	}
	move(422, "no job is chosen", nil, "to", "programmed")
	move(422, "no step is chosen", []int{0})
	move(422, "cannot be moved to", []int{0}, "to", "burnt")
	move(422, "cannot become obligated", []int{0}, "to", "obligated", "contract", "C-1")
	move(422, "is no day", []int{0}, "to", "programmed", "on", "soon")
	move(422, "is in the future", []int{0}, "to", "programmed", "on", "2026-06-16")
	move(404, "no approved list", nil, "to", "programmed", "all", "1", "list", "FY99")
	move(200, "2 jobs programmed.", []int{0, 1}, "to", "programmed")
	states("programmed", "programmed", "approved")
	move(200, " jobs programmed.", nil, "to", "programmed", "all", "1")
	move(422, "can take this step", nil, "to", "programmed", "all", "1")
	move(422, "needs the number of its contract", []int{0, 1}, "to", "obligated")
	move(200, "2 jobs obligated.", []int{0, 1}, "to", "obligated", "contract", "C-2027-014")
	move(422, "a cost is of one job", []int{0, 1}, "to", "completed", "cost", "9,840")
	move(422, "is no cost", []int{0}, "to", "completed", "cost", "much")
	move(422, "has no work on record", []int{0}, "to", "completed", "as-recorded", "1")
	move(200, "1 job completed.", []int{0}, "to", "completed", "cost", "$9,840", "notes", "night work")
	move(200, "1 job taken one step back", []int{0}, "to", "undo")
	move(200, "Check the cost: it is far from what was approved.", []int{0}, "to", "completed", "cost", "9")
	move(200, "1 job taken one step back", []int{0}, "to", "undo")
	move(200, "1 job completed.", []int{0}, "to", "completed", "cost", "$9,840")
	move(422, "cannot become paid", []int{0, 2}, "to", "paid")
	move(200, "1 job completed.", []int{1}, "to", "completed")
	move(422, "really cost is not on record", []int{0, 1}, "to", "paid")
	move(422, "cannot become dropped", []int{0}, "to", "dropped", "reason", "x")
	move(200, "1 job paid.", []int{0}, "to", "paid")
	move(422, "for a reason", []int{2}, "to", "dropped")
	move(200, "deck replaced in 2028", []int{2}, "to", "dropped", "reason", "deck replaced in 2028")
	move(200, "1 job taken one step back", []int{2}, "to", "undo")
	states("paid", "completed", "programmed")
	first := jobsOf(t, s, "FY27")[0]
	if first.ActualCents == nil || *first.ActualCents != 984_000 || first.WorkID == 0 || first.Contract != "C-2027-014" {
		t.Errorf("got %+v, want the work, its cost and the contract", first)
	}
	if _, _, page := get(t, address+"/joints/"+first.Tag); !strings.Contains(page, "by contract") || !strings.Contains(page, "$9,840") {
		t.Error("the joint's page has not the work")
	}
	if _, _, page := get(t, address+"/worklist/approved?list=FY27&state=paid"); !strings.Contains(page, first.Tag) || strings.Count(page, `name="job"`) != 1 {
		t.Error("the jobs that are paid are not shown alone")
	}
}

// Two people move the same job: the second is told who was first, and where the
// job stands now.
func TestTwoBrowsersOnOneJob(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	tag := approveList(t, s, "FY27")[0].Tag
	one, two := browse(t, address, laptop), browse(t, address, phone)
	two.forgive("409") // the answer that this is about
	one.named("Birch")
	for _, b := range []*tab{one, two} {
		b.do(chromedp.Navigate(address+"/worklist/approved?list=FY27"), chromedp.Click(css(`[name="job"]`)), chromedp.WaitVisible(css(".job-bar")))
	}
	one.axe()
	one.follow("#move button")
	if got := ask(one, chromedp.Text(css("[role=status]"))); got != "1 job programmed." {
		t.Errorf("the first one reads %q", got)
	}
	two.follow("#move button")
	if got := ask(two, chromedp.Text(css("[role=alert]"))); !strings.Contains(got, "Birch has changed the job of joint "+tag) || !strings.Contains(got, "it is programmed now") {
		t.Errorf("the second one reads %q, want who was first", got)
	}
	two.axe()

	// What was ticked still is; another step is right now, by keys.
	two.do(chromedp.SetValue(css("#to"), "obligated"), chromedp.Evaluate[chromedp.Void](`document.getElementById("to").dispatchEvent(new Event("change", {bubbles: true}))`),
		chromedp.WaitVisible(css("#contract")), chromedp.Focus(css("#contract")), chromedp.KeyEvent("C-9"))
	two.submit("\r")
	if got := ask(two, chromedp.Text(css(".jobs"))); !strings.Contains(got, "obligated") || !strings.Contains(got, "C-9") {
		t.Errorf("the list is %q", got)
	}
	for name, size := range map[string][2]int64{"small": small, "laptop": laptop} {
		two.do(chromedp.EmulateViewport(size[0], size[1]))
		for _, scheme := range []string{"light", "dark"} {
			two.scheme(scheme)
			two.axe()
			two.whole("approved-" + name + "-" + scheme)
		}
		if wider := ask(two, chromedp.Evaluate[bool]("document.documentElement.scrollWidth > innerWidth")); wider {
			t.Errorf("%s: the page is wider than its screen", name)
		}
	}
}

// TestAPIOfApprovedJobs: a list's jobs are read, and moved all or none.
func TestAPIOfApprovedJobs(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	approveList(t, s, "FY27 first")
	const list = "/api/approved/FY27%20first"
	var lists struct{ Lists []forecast.ApprovedList }
	var jobs struct{ Jobs []forecast.Job }
	read := func(path string, to any) {
		t.Helper()
		if status, _, body := get(t, address+path); status != http.StatusOK || json.Unmarshal([]byte(body), to) != nil {
			t.Fatalf("%s: got %d %.300s", path, status, body)
		}
	}
	read("/api/approved", &lists)
	read(list, &jobs)
	if len(lists.Lists) != 1 || lists.Lists[0].Jobs != len(jobs.Jobs) || len(jobs.Jobs) < 2 || jobs.Jobs[0].Progress != forecast.Approved {
		t.Fatalf("got %+v and %d jobs", lists, len(jobs.Jobs))
	}
	first, second := jobs.Jobs[0], jobs.Jobs[1]
	both := fmt.Sprintf(`{%q: %q, %q: %q}`, first.Tag, first.ChangedAt, second.Tag, second.ChangedAt)
	for _, test := range []struct {
		body   string
		status int
		says   string
	}{
		{`{"all": true}`, 422, "one step"},
		{`{"all": true, "to": "programmed", "undo": true}`, 422, "one step"},
		{`{"joints": ` + both + `, "to": "obligated"}`, 422, "obligated"},
		{`{"joints": {"J999999": ""}, "to": "programmed"}`, 404, "no job on the list"},
		{`{"joints": {"` + first.Tag + `": "2020-01-01T00:00:00Z"}, "to": "programmed"}`, 409, "in the meantime"},
		{`{"joints": ` + both + `, "to": "programmed"}`, 200, `"moved":2`},
		{`{"joints": ` + both + `, "to": "programmed"}`, 409, "in the meantime"},
		{`{"all": true, "to": "obligated", "contract": "C-7"}`, 200, `"moved":2`},
		{`{"all": true, "undo": true}`, 200, `"moved":2`},
	} {
		r, err := http.Post(address+list+"/moves", "application/json", strings.NewReader(test.body))
		if err != nil {
			t.Fatal(err)
		}
		if status, _, body := answer(t, r); status != test.status || !strings.Contains(body, test.says) {
			t.Errorf("%s: got %d %s, want %d and %q", test.body, status, body, test.status, test.says)
		}
	}
	read(list+"?state=programmed", &jobs)
	if len(jobs.Jobs) != 2 {
		t.Errorf("%d jobs are programmed, want 2", len(jobs.Jobs))
	}
}
