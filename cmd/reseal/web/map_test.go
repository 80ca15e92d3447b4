package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"

	"reseal/inventory"
)

// await waits until a script's condition holds.
func (b *tab) await(condition string) {
	b.Helper()
	ctx, stop := context.WithTimeout(b.ctx, time.Minute) // drawing in software on a busy machine
	defer stop()
	look := fmt.Sprintf(`new Promise(done => { const look = () => { if (%s) done(true); else setTimeout(look, 50); }; look(); })`, condition)
	if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool](look, chromedp.EvalAwaitPromise)); err != nil {
		b.Fatalf("did not come true (%v): %s\non the page: %s", err, condition, b.words())
	}
}

// mapStill tells that the map is drawn and the list has come.
const mapStill = `document.getElementById("map").map?.loaded() && !document.getElementById("map").map.isMoving() &&
	document.getElementById("map-note").textContent === "" && document.querySelector("#map-list[aria-busy=false] .map-list") &&
	document.querySelector(".legend:not([hidden]) .number").textContent !== "" && document.getElementById("map").map.getLayer("states")`

func openMap(b *tab, address string) {
	b.Helper()
	b.do(chromedp.Navigate(address))
	b.await(mapStill)
}

// ready waits for the forecasts of the whole network.
func ready(t testing.TB, s *Server) {
	t.Helper()
	if _, _, err := s.network.get(t.Context(), s); err != nil {
		t.Fatal(err)
	}
}

// text is the text of what a selector finds.
func (b *tab) text(selector string) string {
	b.Helper()
	return ask(b, chromedp.Evaluate[string](fmt.Sprintf("document.querySelector(%q)?.textContent.trim() ?? ''", selector)))
}

// TestMapOnALaptop: a planner colours the map by urgency, leaves a class out,
// finds a joint by its route and milepost, sends the view on, selects joints
// and takes the list along.
func TestMapOnALaptop(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	ready(t, s)
	all, err := inventory.CountJoints(t.Context(), s.Store.Read(), inventory.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	a, _, err := s.theNetwork(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	all -= a.Unplaced
	b := browse(t, address, laptop)
	openMap(b, address+"/map")
	if got, want := b.text("#map-list strong"), count(all, "joint"); got != want {
		t.Errorf("the list holds %s, want %s", got, want)
	}
	b.axe()

	b.do(chromedp.SetValue(css("#map-by"), "urgency"),
		chromedp.Evaluate[chromedp.Void](`document.getElementById("map-by").dispatchEvent(new Event("change", {bubbles: true}))`))
	b.await(mapStill)
	b.await(`location.search.includes("by=urgency")`)
	b.do(chromedp.Click(css(`.legend[data-scale=urgency] input[value="1"]`)))
	b.await(`location.search.includes("off=1")`)
	b.await(mapStill)
	var hidden int
	if err := json.Unmarshal([]byte(b.text(`.legend[data-scale=urgency] label:nth-of-type(2) .number`)), &hidden); err != nil || hidden == 0 {
		t.Errorf("the class left out has %d joints (%v)", hidden, err)
	}
	if got, want := b.text("#map-list strong"), count(all-hidden, "joint"); got != want {
		t.Errorf("without a class the list holds %s, want %s", got, want)
	}
	b.await(`(f => f.length > 0 && f.every(f => f.properties.class !== 1))(document.getElementById("map").map.queryRenderedFeatures({layers: ["bridges"]}))`)

	// The nearest bridge of a route.
	row, err := inventory.Joints(t.Context(), s.Store.Read(), inventory.Filter{Limit: 1})
	if err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.SetValue(css("#map-text"), fmt.Sprintf("%s %.2f", row[0].Route, *row[0].Milepost)), chromedp.Click(css("#map-find button")))
	b.await(`document.querySelector("#map-hits a")`)
	if got := b.text("#map-hits strong"); got != row[0].StructureNumber {
		t.Errorf("found %q first, want %q", got, row[0].StructureNumber)
	}
	b.do(chromedp.Click(css("#map-hits a")))
	b.await(mapStill)
	b.await(`!document.getElementById("map-card").hidden`)
	if got := b.text("#map-card h2"); got != "Bridge "+row[0].StructureNumber {
		t.Errorf("the card says %q", got)
	}
	b.axe()
	b.picture("map-bridge")

	// Joints are lines at their own place; a click opens the card.
	b.do(chromedp.Click(css("#map-card .show")))
	b.await(`document.getElementById("map").map.getZoom() > 16.9`)
	b.await(mapStill)
	at := ask(b, chromedp.Evaluate[[]float64](`(() => { const m = document.getElementById("map").map, r = m.getCanvas().getBoundingClientRect();
		const f = m.queryRenderedFeatures({layers: ["joints"]}).find(f => f.properties.tag), c = f.geometry.coordinates;
		const p = m.project([(c[0][0] + c[1][0]) / 2, (c[0][1] + c[1][1]) / 2]); return [p.x + r.left, p.y + r.top]; })()`))
	b.do(chromedp.Click(css("#map-card .close")))
	b.await(`document.getElementById("map-card").hidden`)
	b.do(chromedp.MouseClickXY(at[0], at[1]))
	b.await(`!document.getElementById("map-card").hidden && document.querySelector("#map-card h2").textContent.startsWith("J")`)
	b.picture("map-joint")
	tag := strings.Fields(b.text("#map-card h2"))[0]
	if _, err := inventory.FindJoint(t.Context(), s.Store.Read(), tag); err != nil {
		t.Error(err)
	}

	// The address brings a colleague to the same view.
	view := ask(b, chromedp.Evaluate[string](`location.href`))
	openMap(b, view)
	if got := ask(b, chromedp.Evaluate[string](`location.href`)); got != view {
		t.Errorf("the view sent on\n%s opens as\n%s", view, got)
	}
	selectByHand(t, s, b, address)
}

// selectByHand draws a box and a lasso and takes the selection to its list.
func selectByHand(t *testing.T, s *Server, b *tab, address string) {
	t.Helper()
	openMap(b, address+"/map?by=condition")
	drag := func(points ...[2]float64) {
		t.Helper()
		b.await(`!document.getElementById("map-draw").hidden`)
		rect := ask(b, chromedp.Evaluate[[]float64](`(r => [r.left, r.top, r.width, r.height])(document.getElementById("map").getBoundingClientRect())`))
		for i, p := range points {
			kind := input.DispatchMouseEventTypeMouseMoved
			switch i {
			case 0:
				kind = input.DispatchMouseEventTypeMousePressed
			case len(points) - 1:
				kind = input.DispatchMouseEventTypeMouseReleased
			}
			b.do(chromedp.MouseEvent(kind, rect[0]+p[0]*rect[2], rect[1]+p[1]*rect[3], chromedp.ButtonLeft))
		}
		b.await(`document.getElementById("map-draw").hidden`)
		b.await(`document.getElementById("map-selected-count").textContent !== ""`)
		b.await(mapStill)
	}
	b.do(chromedp.Click(css(`[data-tool=lasso]`)))
	drag([2]float64{0.2, 0.2}, [2]float64{0.5, 0.2}, [2]float64{0.7, 0.5}, [2]float64{0.5, 0.6}, [2]float64{0.2, 0.5}, [2]float64{0.2, 0.25})
	lasso := b.text("#map-selected-count")
	b.do(chromedp.Click(css(`[data-tool=box]`)))
	drag([2]float64{0.3, 0.3}, [2]float64{0.4, 0.4}, [2]float64{0.7, 0.7})
	b.picture("map-selected")
	b.axe()
	box := b.text("#map-selected-count")
	if lasso == box || box == "0 joints" || lasso == "0 joints" {
		t.Errorf("lasso took %s, box %s", lasso, box)
	}
	b.follow(`[data-action="/map/selection"]`)
	if got := b.text("h1"); got != box+" selected on the map" {
		t.Errorf("the list has %q, want %q", got, box)
	}
	b.axe()
	b.picture("map-selection")
	for _, path := range []string{"/map/due?", "/map/export/joints.csv?", "/map/export/joints.geojson?", "/map/export/due.csv?"} {
		query := ask(b, chromedp.Evaluate[string](`location.search.slice(1)`))
		status, _, body := get(t, address+path+query)
		if status != http.StatusOK || !strings.Contains(body, "J0") {
			t.Errorf("%s: got %d %.200s", path, status, body)
		}
		if strings.HasSuffix(path, "joints.csv?") {
			if got := count(strings.Count(body, "\n")-1, "joint"); got != box {
				t.Errorf("the file has %s, want %s", got, box)
			}
		}
	}
	b.follow(`a[href^="/map/due"]`)
	b.axe()
	if words := b.words(); strings.Contains(words, "%!") {
		t.Errorf("a value is not for people: %s", words)
	}
	b.picture("map-due")
}

// TestMapKeepsNoOldColours: after another scale was chosen, the map shows what a
// page that is opened with that scale shows. A network of a few bridges did not
// bring out the old fault, that late tiles of the scale before stayed.
func TestMapKeepsNoOldColours(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	ready(t, s)
	b := browse(t, address, laptop)
	const shown = `(() => { const n = {}; for (const f of document.getElementById("map").map.queryRenderedFeatures({layers: ["bridges"]}))
		n[f.properties.class] = (n[f.properties.class] || 0) + 1; return JSON.stringify(n); })()`
	scales, got := []string{"year", "fit", "urgency", "condition"}, map[string]string{}
	openMap(b, address+"/map?by=condition")
	for _, by := range scales { // tiles that no cache has
		b.do(chromedp.SetValue(css("#map-by"), by),
			chromedp.Evaluate[chromedp.Void](`document.getElementById("map-by").dispatchEvent(new Event("change", {bubbles: true}))`))
		b.await(`location.search.includes("by=` + by + `")`)
		b.await(mapStill)
		got[by] = ask(b, chromedp.Evaluate[string](shown))
	}
	for _, by := range scales {
		openMap(b, address+"/map?by="+by)
		if want := ask(b, chromedp.Evaluate[string](shown)); got[by] != want {
			t.Errorf("after a change to %s the map has bridges of classes %s, want %s", by, got[by], want)
		}
	}
}

// TestMapOnAPhone: the map, its legend and list fit a phone, and the list
// shows what the map does.
func TestMapOnAPhone(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	ready(t, s)
	b := browse(t, address, phone)
	b.scheme("dark")
	openMap(b, address+"/map?by=fit")
	b.axe()
	b.picture("map-phone-dark")
	if wide := ask(b, chromedp.Evaluate[bool](`document.documentElement.scrollWidth > innerWidth`)); wide {
		t.Error("the page is wider than the screen")
	}
	b.do(chromedp.Click(css(".map-list .show")))
	b.await(`!document.getElementById("map-card").hidden`)
	b.await(mapStill)
	b.picture("map-phone-card")
	if got := ask(b, chromedp.Evaluate[bool](`document.activeElement.closest("#map-card") !== null`)); !got {
		t.Error("the card that opened has not the focus")
	}
	b.do(chromedp.Click(css("#map-card .close")))
	b.do(chromedp.Click(css(`[data-tool=view]`)))
	b.await(`!document.getElementById("map-selected").hidden`)
	b.await(mapStill)
	href := ask(b, chromedp.Evaluate[string](`document.querySelector("[data-action='/map/sheets']").href`))
	if status, _, body := get(t, href); status != http.StatusOK || !strings.Contains(body, "J0") {
		t.Errorf("sheets: got %d %.300s", status, body)
	}
}

func TestMapAnswers(t *testing.T) {
	s, address := serveSample(t)
	ready(t, s)
	for _, c := range []struct {
		name, path string
		status     int
		want       string
	}{
		{"no such scale", "/map?by=colour", 422, "no scale"},
		{"no such class", "/map?by=condition&off=9", 422, "no class"},
		{"a box that is none", "/map/list?box=1,2,3", 422, "no box"},
		{"an area that is none", "/map/list?area=1,2,3,x", 422, "no area"},
		{"a joint", "/map/card?joint=J000001", 200, "Open the joint"},
		{"no such joint", "/map/card?joint=J999999", 404, "no such joint"},
		{"no hit", "/map/find?text=zzz", 200, "Nothing found"},
		{"without script", "/map?text=J000001&by=year", 200, "J000001"},
		{"no such tile", "/tiles/condition/3/9/0.mvt", 404, "no tile"},
		{"no such scale of tiles", "/tiles/colour/0/0/0.mvt", 404, "no tile"},
		{"nothing there", "/tiles/condition/14/0/0.mvt", 204, ""},
		{"no background", "/background.pmtiles", 404, ""},
		{"too many sheets", "/map/sheets", 422, "too many"},
		{"no such file", "/map/export/bridges.gpkg", 404, "no file"},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, _, body := get(t, address+c.path)
			if status != c.status || !strings.Contains(body, c.want) {
				t.Errorf("got %d %.300s, want %d with %q", status, body, c.status, c.want)
			}
		})
	}
	t.Run("a tile is kept while nothing changes", func(t *testing.T) {
		_, h, body := get(t, address+"/tiles/condition/0/0/0.mvt")
		if len(body) == 0 || h.Get("ETag") == "" {
			t.Fatalf("got %d bytes, ETag %q", len(body), h.Get("ETag"))
		}
		r, err := http.NewRequestWithContext(t.Context(), "GET", address+"/tiles/condition/0/0/0.mvt", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("If-None-Match", h.Get("ETag"))
		got, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		got.Body.Close()
		if got.StatusCode != http.StatusNotModified {
			t.Errorf("got %d, want 304", got.StatusCode)
		}
	})
}

// TestBackground: the agency's own map is served by parts, or its host is let
// in; nothing else is.
func TestBackground(t *testing.T) {
	archive := filepath.Join(t.TempDir(), "streets.pmtiles")
	if err := os.WriteFile(archive, []byte("PMTiles\x03 and the rest"), 0o644); err != nil {
		t.Fatal(err)
	}
	text := filepath.Join(t.TempDir(), "notes.pmtiles")
	if err := os.WriteFile(text, []byte("not tiles at all"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, background, origin, wrong string
	}{
		{"none", "", "", ""},
		{"archive", archive, "", ""},
		{"address", "https://tiles.example.org/{z}/{x}/{y}.png", "https://tiles.example.org", ""},
		{"address with a port", "http://127.0.0.1:9000/{z}/{x}/{y}", "http://127.0.0.1:9000", ""},
		{"address without places", "https://tiles.example.org/", "", "is no address"},
		{"another scheme", "ftp://tiles.example.org/{z}/{x}/{y}", "", "is no address"},
		{"host that would widen the policy", "https://*;script-src *'/{z}/{x}/{y}", "", "is no address"},
		{"no archive", text, "", "is no PMTiles archive"},
		{"no file", filepath.Join(t.TempDir(), "none"), "", "cannot be read"},
	} {
		t.Run(c.name, func(t *testing.T) {
			origin, err := checkBackground(c.background)
			if origin != c.origin || (err != nil) != (c.wrong != "") {
				t.Fatalf("got %q, %v", origin, err)
			}
			if err != nil && !strings.Contains(err.Error(), c.wrong) {
				t.Errorf("got %v, want %q", err, c.wrong)
			}
		})
	}
	s, address := serveSample(t)
	s.Background = archive
	r, err := http.NewRequestWithContext(t.Context(), "GET", address+"/background.pmtiles", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Range", "bytes=0-6")
	got, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer got.Body.Close()
	part := make([]byte, 20)
	n, _ := got.Body.Read(part)
	if got.StatusCode != http.StatusPartialContent || string(part[:n]) != "PMTiles" {
		t.Errorf("got %d %q", got.StatusCode, part[:n])
	}
}
