package web

import (
	"io"
	"net/http"
	"net/url"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// get fetches a page over HTTP.
func get(t testing.TB, address string) (status int, header http.Header, body string) {
	t.Helper()
	r, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	return answer(t, r)
}

// answer reads an answer over HTTP.
func answer(t testing.TB, r *http.Response) (status int, header http.Header, body string) {
	t.Helper()
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return r.StatusCode, r.Header, string(b)
}

func TestStartInABrowser(t *testing.T) {
	inBrowser(t)
	_, address := serveSample(t)
	for name, size := range map[string][2]int64{"phone": phone, "laptop": laptop, "wide": wide} {
		t.Run(name, func(t *testing.T) {
			b := browse(t, address, size)
			for _, scheme := range []string{"light", "dark"} {
				b.scheme(scheme)
				b.do(chromedp.Navigate(address+"/"), chromedp.WaitVisible(css(".tasks")))
				b.axe()
				b.picture("start-" + name + "-" + scheme)
			}
		})
	}
}

func TestStartOfAnEmptyInventory(t *testing.T) {
	_, address := serveFile(t, filepath.Join(t.TempDir(), "new.gpkg"))
	status, _, body := get(t, address+"/")
	if status != http.StatusOK || !strings.Contains(body, "A new inventory, still empty") {
		t.Errorf("got %d %s, want a page that leads on", status, body)
	}
}

func TestThePersonGoesOnRecord(t *testing.T) {
	inBrowser(t)
	_, address := serveSample(t)
	b := browse(t, address, laptop)
	b.do(chromedp.Navigate(address+"/"), chromedp.Click(css(".person summary")),
		chromedp.SetValue(css("#person-name"), "Alder, District 4"))
	b.follow(".person button")
	name := ask(b, chromedp.Text(css(".person summary span")))
	if name != "Alder, District 4" {
		t.Errorf("got %q, want the name given", name)
	}
}

// TestChangesNeedAName: where the machine names nobody, the pages ask, and nothing
// is changed before.
func TestChangesNeedAName(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	s.Person = ""
	b := browse(t, address, small)
	b.do(chromedp.Navigate(address+"/joints/J000007"), chromedp.WaitVisible(css(".who")))
	b.axe()
	b.picture("who-small")
	if wider := ask(b, chromedp.Evaluate[bool]("document.documentElement.scrollWidth > innerWidth")); wider {
		t.Error("the page that asks for a name is wider than its screen")
	}
	change := func() {
		b.do(chromedp.Focus(css("#joint summary")), chromedp.KeyEvent("\r"), chromedp.WaitVisible(css("#joint-label")), chromedp.SetValue(css("#joint-label"), "north end"))
		b.follow("#joint form button")
	}
	b.forgive("422") // the answer that this is about
	change()
	if got := ask(b, chromedp.Text(css("#joint"))); !strings.Contains(got, "nobody is named") {
		t.Errorf("without a name the form says %q", got)
	}
	if r, err := http.Post(address+"/api/findings", "application/json", strings.NewReader(`{"joint":"J000007","kind":"leak","urgency":"soon","found_on":"2026-06-01"}`)); err != nil {
		t.Fatal(err)
	} else if status, _, body := answer(t, r); status != http.StatusUnprocessableEntity || !strings.Contains(body, "nobody is named") {
		t.Errorf("a program without a name: got %d %s", status, body)
	}
	b.do(chromedp.SetValue(css("#person-name"), "Alder, District 4"))
	b.follow(".who button")
	if got := ask(b, chromedp.Evaluate[string]("location.pathname")); got != "/joints/J000007" {
		t.Errorf("after the name the page is %s", got)
	}
	change()
	if got := ask(b, chromedp.Text(css("#history"))); !strings.Contains(got, "north end") || !strings.Contains(got, "Alder, District 4") {
		t.Errorf("the history is %q", got)
	}
	r, err := http.PostForm(address+"/person", url.Values{"name": {"x"}, "back": {"//example.org/"}})
	if err != nil {
		t.Fatal(err)
	}
	if answer(t, r); r.Request.URL.Host != strings.TrimPrefix(address, "http://") {
		t.Errorf("the name leads to %s", r.Request.URL)
	}
}

func TestGuard(t *testing.T) {
	_, address := serveSample(t)
	t.Run("headers", func(t *testing.T) {
		_, h, _ := get(t, address+"/")
		if got := h.Get("Content-Security-Policy"); !strings.Contains(got, "default-src 'self'") {
			t.Errorf("got policy %q", got)
		}
	})
	for name, c := range map[string]struct {
		method, path, host, origin string
		want                       int
	}{
		"no such page":      {"GET", "/nowhere", "", "", 404},
		"another host name": {"GET", "/", "example.org", "", 421},
		"another site":      {"POST", "/person", "", "https://example.org", 403},
		"asset":             {"GET", "/static/base.css", "", "", 200},
		"no such asset":     {"GET", "/static/server.go", "", "", 404},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := http.NewRequest(c.method, address+c.path, nil)
			if err != nil {
				t.Fatal(err)
			}
			if c.host != "" {
				r.Host = c.host
			}
			if c.origin != "" {
				r.Header.Set("Origin", c.origin)
			}
			got, err := http.DefaultTransport.RoundTrip(r)
			if err != nil {
				t.Fatal(err)
			}
			got.Body.Close()
			if got.StatusCode != c.want {
				t.Errorf("got %d, want %d", got.StatusCode, c.want)
			}
		})
	}
}
