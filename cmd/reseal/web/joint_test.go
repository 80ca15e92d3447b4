package web

import (
	"bytes"
	"context"
	"image"
	"image/jpeg"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"reseal/inventory"
	"reseal/inventory/store"
)

func TestJointsInABrowser(t *testing.T) {
	inBrowser(t)
	_, address := serveSample(t)
	b := browse(t, address, laptop)
	b.do(chromedp.Navigate(address+"/joints"), chromedp.WaitVisible(css(".joint-list")))
	b.axe()
	b.picture("joints-laptop")
	// The planner looks for the worst strip seals of a district.
	b.do(chromedp.SetValue(css("#district"), "North"), chromedp.SetValue(css("#kind"), "strip seal"),
		chromedp.SetValue(css("#worst"), "3"), chromedp.SetValue(css("#sort"), "condition"))
	b.follow(".filter button")
	first := ask(b, chromedp.Text(css(".joint-list li")))
	if !strings.Contains(first, "CS4") || !strings.Contains(first, "strip seal") {
		t.Errorf("got %q first, want a severe strip seal", first)
	}
	b.follow(".joint-list a")
	heading := ask(b, chromedp.Text(css("h1")))
	if !strings.HasPrefix(heading, "Joint J") {
		t.Errorf("got the heading %q", heading)
	}
	for name, size := range map[string][2]int64{"phone": phone, "laptop": laptop} {
		for _, scheme := range []string{"light", "dark"} {
			b.scheme(scheme)
			b.do(chromedp.EmulateViewport(size[0], size[1]), chromedp.Navigate(address+"/joints/J000007"), chromedp.WaitVisible(css("#history")))
			b.axe()
			b.whole("joint-" + name + "-" + scheme)
			if name == "phone" {
				b.do(chromedp.Navigate(address+"/joints"), chromedp.WaitVisible(css(".joint-list")))
				b.axe()
				b.picture("joints-" + name + "-" + scheme)
			}
		}
	}
}

func TestTwoBrowsersOnOneJoint(t *testing.T) {
	inBrowser(t)
	_, address := serveSample(t)
	const page = "/joints/J000007"
	one, two := browse(t, address, laptop), browse(t, address, laptop)
	two.forgive("409") // the answer that this is about
	for i, b := range []*tab{one, two} {
		b.do(chromedp.Navigate(address+"/"), chromedp.Click(css(".person summary")),
			chromedp.SetValue(css("#person-name"), []string{"Alder", "Birch"}[i]))
		b.follow(".person button")
		b.do(chromedp.Navigate(address+page), chromedp.Click(css("#joint summary")), chromedp.WaitVisible(css("#joint-label")))
	}
	one.do(chromedp.SetValue(css("#joint-label"), "north end"), chromedp.SetValue(css("#joint-lanes"), "2"))
	one.follow("#joint button")
	two.do(chromedp.SetValue(css("#joint-label"), "abutment 1"))
	two.follow("#joint button")
	if got := ask(two, chromedp.Text(css("#joint [role=alert]"))); !strings.Contains(got, "Alder changed it in the meantime") {
		t.Errorf("the second one read %q, want who changed it", got)
	}
	if got := ask(two, chromedp.Text(css("#joint .wrong"))); !strings.Contains(got, "north end") {
		t.Errorf("the second one read %q, want what is on record now", got)
	}
	two.axe()
	two.follow("#joint button")
	for _, want := range []string{"north end", "abutment 1", "Alder", "Birch"} {
		if history := ask(two, chromedp.Text(css("#history"))); !strings.Contains(history, want) {
			t.Errorf("the history has no %q: %s", want, history)
		}
	}
	two.do(chromedp.Click(css("#joint summary")))
	if got := ask(two, chromedp.Value(css("#joint-lanes"))); got != "2" {
		t.Errorf("lanes are %q, want what the first one put in to stay", got)
	}
}

func TestEditsThatAreRefused(t *testing.T) {
	_, address := serveSample(t)
	for name, c := range map[string]struct {
		path   string
		values url.Values
		status int
		want   string
	}{
		"not a number":   {"/joints/J000007", url.Values{"length_ft": {"long"}}, 422, "is not a number"},
		"not possible":   {"/joints/J000007", url.Values{"skew_deg": {"89"}}, 422, "a skew of 89° cannot be"},
		"stale":          {"/joints/J000007", url.Values{"seen": {"2020-01-01T00:00:00.000Z"}, "label": {"x"}}, 409, "in the meantime"},
		"no such joint":  {"/joints/J999999", url.Values{"label": {"x"}}, 404, "there is no joint"},
		"no such seal":   {"/joints/J000007/seals/999999", url.Values{"size": {"x"}}, 404, "no seal"},
		"no reason":      {"/joints/J000007/decisions", url.Values{"what": {"exclude"}}, 422, "needs a reason"},
		"no such choice": {"/joints/J000007/decisions", url.Values{"what": {"burn"}, "reason": {"x"}}, 422, "nobody can decide"},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := http.PostForm(address+c.path, c.values)
			if err != nil {
				t.Fatal(err)
			}
			status, _, body := answer(t, r)
			if status != c.status || !strings.Contains(body, c.want) {
				t.Errorf("got %d %s, want %d and %q", status, body, c.status, c.want)
			}
		})
	}
}

func TestPhotosOfAJoint(t *testing.T) {
	s, address := serveSample(t)
	var jpg bytes.Buffer
	if err := jpeg.Encode(&jpg, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		t.Fatal(err)
	}
	name, err := s.photos().Keep(&jpg)
	if err != nil {
		t.Fatal(err)
	}
	err = s.Store.Update(t.Context(), "tester", func(ctx context.Context, tx *store.Tx) error {
		j, err := inventory.FindJoint(ctx, tx, "J000007")
		if err != nil {
			return err
		}
		return inventory.AddFinding(ctx, tx, &inventory.Finding{
			JointID: j.ID, Kind: "leak", FoundOn: s.today(), Photos: name + "\n../elsewhere.jpg",
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	_, _, body := get(t, address+"/joints/J000007")
	if !strings.Contains(body, `src="/photos/`+name+`" alt="leak, 2026-06-15"`) || strings.Contains(body, "elsewhere") {
		t.Errorf("the page has not the photo that is kept, and it alone: %s", body)
	}
}
