package web

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"reseal/inventory"
	"reseal/inventory/store"
)

// bridgeOf is the bridge of a joint of the invented network.
func bridgeOf(t testing.TB, s *Server, tag string) *inventory.Bridge {
	t.Helper()
	j, err := inventory.FindJoint(t.Context(), s.Store.Read(), tag)
	if err != nil {
		t.Fatal(err)
	}
	b, err := inventory.BridgeByID(t.Context(), s.Store.Read(), j.BridgeID)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// From a joint to its bridge, a change there, and back by the map.
func TestBridgeInABrowser(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	number := bridgeOf(t, s, "J000007").StructureNumber
	b := browse(t, address, phone)
	b.do(chromedp.Navigate(address + "/joints/J000007"))
	b.follow(".lead a")
	if got := ask(b, chromedp.Text(css("h1"))); !strings.HasPrefix(got, "Bridge "+number) {
		t.Errorf("the joint leads to %q, want bridge %s", got, number)
	}
	if got := ask(b, chromedp.Text(css(".bridge-joints"))); !strings.Contains(got, "J000007") || !strings.Contains(got, "next job") {
		t.Errorf("the joints are %q", got)
	}

	// By keys alone: open the form, change the deicing and a name, save.
	b.do(chromedp.Focus(css("#bridge summary")), chromedp.KeyEvent("\r"), chromedp.WaitVisible(css("#bridge-name")))
	b.do(chromedp.Focus(css("#bridge-name")), chromedp.KeyEvent("Long Meadow"))
	b.axe()
	b.submit("\r")
	if got := ask(b, chromedp.Text(css("h1"))); !strings.Contains(got, "Long Meadow") {
		t.Errorf("after the change the heading is %q", got)
	}
	if got := ask(b, chromedp.Text(css("#history"))); !strings.Contains(got, "Long Meadow") || !strings.Contains(got, "Test Person") {
		t.Errorf("the history is %q", got)
	}

	// A project: put on record, then made certain.
	b.do(chromedp.Focus(css("#project summary")), chromedp.KeyEvent("\r"), chromedp.WaitVisible(css("#project-year")))
	b.do(chromedp.SetValue(css("#project-kind"), "overlay"), chromedp.Focus(css("#project-year")), chromedp.KeyEvent("2031"))
	b.axe()
	b.submit("\r")
	if got := ask(b, chromedp.Text(css("#projects ul"))); !strings.Contains(got, "2031: overlay, likely") {
		t.Errorf("the projects are %q", got)
	}
	form := "#" + ask(b, chromedp.Evaluate[string](`[...document.querySelectorAll("#projects details[id^=project-]")].at(-1).id`))
	b.do(chromedp.Focus(css(form+" summary")), chromedp.KeyEvent("\r"), chromedp.WaitVisible(css(form+" select")))
	b.do(chromedp.SetValue(css(form+" [name=certainty]"), "committed"), chromedp.Focus(css(form+" [name=year]")))
	b.submit("\r")
	if got := ask(b, chromedp.Text(css("#projects ul"))); !strings.Contains(got, "2031: overlay, committed") {
		t.Errorf("the projects are %q", got)
	}
	if got := ask(b, chromedp.Text(css("#history"))); !strings.Contains(got, "overlay: certainty") {
		t.Errorf("the history is %q", got)
	}

	// It will not come: withdrawn with a reason.
	form = strings.Replace(form, "#project-", "#withdraw-", 1)
	b.do(chromedp.Focus(css(form+" summary")), chromedp.KeyEvent("\r"), chromedp.WaitVisible(css(form+" textarea")))
	b.axe()
	b.forgive("422") // the answer that this is about
	b.follow(form + " button")
	if got := ask(b, chromedp.Text(css(form))); !strings.Contains(got, "withdrawn with a reason") {
		t.Errorf("without a reason the form says %q", got)
	}
	b.do(chromedp.Focus(css(form+" textarea")), chromedp.KeyEvent("the money went to another bridge"))
	b.follow(form + " button")
	if got := ask(b, chromedp.Text(css("#projects ul"))); !strings.Contains(got, "2031: overlay, withdrawn on "+s.today().String()+" by Test Person: the money went") {
		t.Errorf("the projects are %q", got)
	}
	if got := ask(b, chromedp.Text(css("#history"))); !strings.Contains(got, "overlay: withdrawn why") {
		t.Errorf("the history is %q", got)
	}

	for name, size := range map[string][2]int64{"phone": phone, "small": small, "laptop": laptop} {
		b.do(chromedp.EmulateViewport(size[0], size[1]))
		for _, scheme := range []string{"light", "dark"} {
			b.scheme(scheme)
			b.axe()
			b.whole("bridge-" + name + "-" + scheme)
		}
		if wider := ask(b, chromedp.Evaluate[bool]("document.documentElement.scrollWidth > innerWidth")); wider {
			t.Errorf("%s: the page is wider than its screen", name)
		}
	}

	b.follow(".bridge-joints h3 a")
	if got := ask(b, chromedp.Text(css(".lead"))); !strings.Contains(got, "bridge "+number) {
		t.Errorf("the bridge leads to a joint of %q", got)
	}
	b.do(chromedp.Navigate(address+"/map"), chromedp.SetValue(css("#map-text"), number), chromedp.Click(css("#map-find button")),
		chromedp.WaitVisible(css("#map-card .button")))
	b.follow("#map-card .button")
	if got := ask(b, chromedp.Text(css("h1"))); !strings.HasPrefix(got, "Bridge "+number) {
		t.Errorf("the map leads to %q, want bridge %s", got, number)
	}
}

// What comes next at each joint, as people and the records have it.
func TestNextJobOfABridge(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	bridge := bridgeOf(t, s, "J000007")
	path := address + bridgePath(bridge.State, bridge.StructureNumber)
	next := func() string {
		_, _, page := get(t, path)
		_, page, _ = strings.Cut(page, `href="/joints/J000007"`)
		_, page, _ = strings.Cut(page, "<dt>next job</dt>")
		page, _, _ = strings.Cut(page, "</dd>")
		return page
	}
	decide := func(values url.Values) {
		r, err := http.PostForm(address+"/joints/J000007/decisions", values)
		if err != nil {
			t.Fatal(err)
		}
		answer(t, r)
	}
	change := func(fn func(context.Context, *store.Tx) error) {
		if err := s.Store.Update(t.Context(), "tester", fn); err != nil {
			t.Fatal(err)
		}
	}
	decide(url.Values{"what": {"pin"}, "year": {"2031"}, "reason": {"with the deck"}})
	if got := next(); !strings.Contains(got, "2031") || !strings.Contains(got, "pinned: with the deck") {
		t.Errorf("pinned: got %s", got)
	}
	decide(url.Values{"undo": {"pin"}})
	decide(url.Values{"what": {"exclude"}, "reason": {"goes away"}})
	if got := next(); !strings.Contains(got, "left out: goes away") {
		t.Errorf("left out: got %s", got)
	}
	decide(url.Values{"undo": {"exclude"}})
	change(func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO projects (bridge_id, kind, year, certainty) VALUES (?, 'other', 2033, 'possible')", bridge.ID)
		return err
	})
	if _, _, page := get(t, path); !strings.Contains(page, "2033: other") {
		t.Error("the project is not shown")
	}
	const left = "project of 2028"
	if _, _, page := get(t, path); !strings.Contains(page, left) {
		t.Fatal("no joint is left to the committed project of 2028")
	}
	projects, err := inventory.ProjectsOn(t.Context(), s.Store.Read(), bridge.ID)
	if err != nil || projects[0].Year != 2028 {
		t.Fatal(projects, err)
	}
	r, err := http.PostForm(fmt.Sprintf("%s/projects/%d/withdraw", path, projects[0].ID), url.Values{"withdrawn_why": {"no money"}})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, page := answer(t, r); strings.Contains(page, left) || !strings.Contains(page, "no money") {
		t.Error("joints are left to a project that was withdrawn")
	}
	joint, err := inventory.FindJoint(t.Context(), s.Store.Read(), "J000007")
	if err != nil {
		t.Fatal(err)
	}
	change(func(ctx context.Context, tx *store.Tx) error {
		return inventory.AddFinding(ctx, tx, &inventory.Finding{JointID: joint.ID, Kind: "leak", Urgency: "severe", FoundOn: s.today(), Notes: "over the bearing"})
	})
	if got := next(); !strings.Contains(got, "engineer&#39;s review") {
		t.Errorf("with a severe finding: got %s", got)
	}
	if _, _, page := get(t, path); !strings.Contains(page, "over the bearing") || !strings.Contains(page, "1 finding for an engineer") {
		t.Error("the finding is not shown")
	}
	change(func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE joints SET status = 'retired' WHERE id = ?", joint.ID)
		return err
	})
	if _, _, page := get(t, path); !strings.Contains(page, "1 joint not in service") {
		t.Error("a joint out of service is not apart")
	}
}

// The joints whose next job is of next year are those on next year's work list.
func TestNextJobIsThatOfTheWorkList(t *testing.T) {
	t.Parallel()
	s, _ := serveSample(t)
	listed := map[string]string{}
	for _, i := range ranked(t, s).Ranked {
		listed[i.Tag] = i.Treatment
	}
	a, err := s.theAgency(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	now, later := 0, 0
	err = inventory.EachBridge(t.Context(), s.Store.Read(), inventory.Filter{District: "North"}, func(b *inventory.Bridge) error {
		outlook, err := a.model.OutlookOf(t.Context(), s.Store.Read(), b, s.asOfToday())
		for _, j := range outlook {
			switch treatment, ok := listed[j.Tag]; {
			case len(j.Urgent()) > 0: // shown apart
			case ok != (j.Next.Year == 2027), ok && j.Next.Treatment != treatment:
				t.Errorf("joint %s: next job %+v, on the list %v %s", j.Tag, j.Next, ok, treatment)
			case ok:
				now++
			case j.Next.Year > 2027:
				later++
			}
		}
		return err
	})
	if err != nil || now < 20 || later < 20 {
		t.Errorf("%d joints are due next year and %d later (%v): too few to tell", now, later, err)
	}
}

func TestBridgeEditsThatAreRefused(t *testing.T) {
	s, address := serveSample(t)
	bridge := bridgeOf(t, s, "J000007")
	path := bridgePath(bridge.State, bridge.StructureNumber)
	for name, c := range map[string]struct {
		path   string
		values url.Values
		status int
		want   string
	}{
		"not a number":   {path, url.Values{"length_ft": {"long"}}, 422, "is not a number"},
		"not possible":   {path, url.Values{"skew_deg": {"120"}}, 422, "a skew of 120° cannot be"},
		"stale":          {path, url.Values{"seen": {"2020-01-01T00:00:00.000Z"}, "name": {"x"}}, 409, "in the meantime"},
		"half a place":   {path, url.Values{"latitude": {"north"}}, 422, "give both, latitude and longitude"},
		"no project":     {path + "/projects/99", url.Values{"year": {"2030"}}, 404, "has no project 99"},
		"not withdrawn":  {path + "/projects/99/withdraw", url.Values{"withdrawn_why": {"x"}}, 404, "has no project 99"},
		"no number":      {path + "/projects/x/withdraw", url.Values{"withdrawn_why": {"x"}}, 404, "no project"},
		"no year":        {path + "/projects", url.Values{"kind": {"overlay"}, "certainty": {"likely"}}, 422, "needs a year"},
		"no such bridge": {"/bridges/41/nowhere", url.Values{"name": {"x"}}, 404, "there is no bridge"},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := http.PostForm(address+c.path, c.values)
			if err != nil {
				t.Fatal(err)
			}
			if status, _, body := answer(t, r); status != c.status || !strings.Contains(body, c.want) {
				t.Errorf("got %d %s, want %d and %q", status, body, c.status, c.want)
			}
		})
	}
}

// What was seen of the seal before the one in place says so.
func TestSeenBeforeThisSeal(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	var number string
	err := s.Store.Read().NewRaw(`SELECT b.state || '/' || b.structure_number FROM joints j JOIN bridges b ON b.id = j.bridge_id
		JOIN stretches t ON t.joint_id = j.id JOIN seals s ON s.stretch_id = t.id AND s.removed_on IS NULL
		WHERE j.status = 'in service' AND s.installed_on > (SELECT max(inspected_on) FROM inspections i WHERE i.joint_id = j.id) LIMIT 1`).Scan(t.Context(), &number)
	if err != nil {
		t.Fatal(err)
	}
	r, err := http.Get(address + "/bridges/" + number)
	if err != nil {
		t.Fatal(err)
	}
	if status, _, page := answer(t, r); status != http.StatusOK || !strings.Contains(page, "before this seal") {
		t.Errorf("bridge %s: %d, and its page does not say what was seen before the seal", number, status)
	}
}
