package web

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

// roadside is a server that can be taken away and brought back at the same
// address, with the inventory closed in between.
type roadside struct {
	testing.TB
	file    string
	address string
	server  *Server
	stop    func()
}

func serveRoadside(t testing.TB) *roadside {
	t.Helper()
	r := &roadside{TB: t, file: copyOfSample(t), address: "127.0.0.1:0"}
	r.start()
	t.Cleanup(func() { r.stop() })
	return r
}

func (r *roadside) start() {
	r.Helper()
	st, err := store.Open(r.Context(), r.file, store.Options{Now: func() time.Time { return today }})
	if err != nil {
		r.Fatal(err)
	}
	if r.server, err = New(r.Context(), Options{Store: st, Person: "Test Person", Log: r.Output()}); err != nil {
		r.Fatal(err)
	}
	l, err := net.Listen("tcp", r.address)
	if err != nil {
		r.Fatal(err)
	}
	r.address = l.Addr().String()
	h := &http.Server{Handler: r.server.Handler()}
	go h.Serve(l)
	r.stop = func() {
		h.Close()
		r.server.Close()
		st.Close()
		r.stop = func() {}
	}
}

func (r *roadside) url() string { return "http://" + r.address }

// inspections are those of the day on the clock that are on record of a joint.
func (r *roadside) inspections(tag string) (out []condition.Inspection) {
	r.Helper()
	j, err := inventory.FindJoint(context.Background(), r.server.Store.Read(), tag)
	if err != nil {
		r.Fatal(err)
	}
	all, err := condition.Inspections(context.Background(), r.server.Store.Read(), j.ID)
	if err != nil {
		r.Fatal(err)
	}
	for _, in := range all {
		if in.InspectedOn == inventory.DateOf(today) {
			out = append(out, in)
		}
	}
	return out
}

// unnoted chooses due joints of one stretch that were seen before.
func (r *roadside) dueTags(n int) (tags []string) {
	r.Helper()
	due, err := condition.DueBy(context.Background(), r.server.Store.Read(), inventory.Filter{Route: "Route 1"}, inventory.DateOf(today), condition.DueRules{})
	if err != nil {
		r.Fatal(err)
	}
	for _, d := range due {
		ts, err := inventory.Stretches(context.Background(), r.server.Store.Read(), d.ID)
		if err != nil {
			r.Fatal(err)
		}
		if len(ts) == 1 && d.WorstState > 0 && len(tags) < n {
			tags = append(tags, d.Tag)
		}
	}
	if len(tags) < n {
		r.Fatalf("the sample has %d due joints on Route 1, want %d", len(tags), n)
	}
	return tags
}

// browsePhone opens a browser on a phone whose clock is that of the tests.
func browsePhone(t testing.TB, address string, more ...chromedp.ExecAllocatorOption) *tab {
	t.Helper()
	b := browse(t, address, phone, more...)
	clock := fmt.Sprintf(`{
		const real = Date, shift = %d - real.now();
		Date = class extends real {
			constructor(...at) { if (at.length) super(...at); else super(real.now() + shift); }
			static now() { return real.now() + shift; }
		};
	}`, today.UnixMilli())
	ask(b, chromedp.Action[page.AddScriptToEvaluateOnNewDocumentResult](func(ctx context.Context, t *chromedp.Target) (page.AddScriptToEvaluateOnNewDocumentResult, error) {
		return cdp.Call(ctx, t, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: clock})
	}))
	return b
}

// openForm opens the form of a joint and waits until its script is ready.
func (b *tab) openForm(address, tag string) {
	b.Helper()
	b.do(chromedp.Navigate(address+"/inspect/"+tag), chromedp.WaitReady(css("#inspection[data-ready]")))
}

// fill puts text in a field by keys, in the place of what is there.
func (b *tab) fill(selector, text string) {
	b.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf("document.querySelector(%q).select()", selector)), chromedp.SendKeys(css(selector), text))
}

// tap presses on what is brought to the middle of the screen first: the
// navigation lies over its edge.
func (b *tab) tap(selector string) {
	b.Helper()
	b.do(chromedp.WaitReady(css(selector)),
		chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector(%q).scrollIntoView({block: "center"})`, selector)), chromedp.Click(css(selector)))
}

// until waits until an expression of the page is true.
func (b *tab) until(expression string) {
	b.Helper()
	b.do(chromedp.Action[chromedp.Void](func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := chromedp.Poll[bool]("!!("+expression+")")(ctx, t)
		return chromedp.Void{}, err
	}))
}

// asLastTime fills the feet of the first stretch as they were.
const asLastTime = `[data-same="1"]`

// save puts the form on record, and says once more that what is odd is right.
func (b *tab) save() (kept string) {
	b.Helper()
	b.tap("#save")
	b.until(`!document.querySelector("#odd").hidden || !document.querySelector("#done").hidden || [...document.querySelectorAll(".wrong")].some(p => !p.hidden)`)
	if ask(b, chromedp.Evaluate[bool](`!document.querySelector("#odd").hidden`)) {
		b.tap("#accept")
	}
	b.do(chromedp.WaitVisible(css("#done")))
	return ask(b, chromedp.Evaluate[string](`document.querySelector("#done").dataset.kept`))
}

func photoFile(t testing.TB) string {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 2400, 1200)), nil); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), "gland.jpg")
	if err := os.WriteFile(name, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return name
}

// The inspector's whole task: from the list of what is due to an inspection
// with feet, a defect, a gap and a photo on record, on a phone.
func TestAnInspectionOnAPhone(t *testing.T) {
	inBrowser(t)
	r := serveRoadside(t)
	tag := r.dueTags(1)[0]
	b := browsePhone(t, r.url())
	b.do(chromedp.Navigate(r.url() + "/inspect"))
	b.until("document.body.dataset.ready")
	b.axe()
	b.picture("due-routes-phone")
	b.follow(`.routes a[href*="Route+1"]`)
	b.until("document.body.dataset.ready")
	b.axe()
	b.picture("due-route-phone")
	b.follow(`a.due[data-tag="` + tag + `"]`)
	b.do(chromedp.WaitReady(css("#inspection[data-ready]")))
	b.axe()
	b.picture("form-phone")

	length := ask(b, chromedp.Evaluate[float64](`Number(document.querySelector(".stretch").dataset.length)`))
	b.tap("#save")
	b.until(`document.querySelector("#wrong-").textContent.includes("give feet by state")`)
	b.fill("#cs2-1", "3")
	b.tap(`[data-of="cs2-1"][data-step="1"]`)
	b.tap("#save")
	b.until(`document.querySelector("#wrong-stretch-1").textContent.includes("still missing")`)
	b.tap(`[data-rest="cs4-1"]`)
	b.until(`document.querySelector("#left-1").textContent === "All feet are placed"`)
	b.picture("form-feet-phone")

	b.tap("details.defect:has([name=defect-2330]) summary")
	b.tap(`[name=defect-2330][value="3"]`)
	b.fill("#from-2330", "2")
	b.fill("#to-2330", "9")
	b.tap("#add-reading")
	b.fill("#gap-0", "39.5")
	b.fill("#deck-0", "61")
	b.do(chromedp.SetValue(css("#position-0"), "crown"))
	b.until(`document.querySelector(".verdict").textContent.startsWith("Wider than expected") && !document.querySelector("#check").hidden`)
	b.axe()
	b.picture("form-gap-phone")
	b.fill("#gap-0", "1.5")
	b.do(chromedp.SetUploadFiles(css("#photo"), []string{photoFile(t)}), chromedp.WaitVisible(css(".thumbs img")))
	b.fill("#notes", "gland torn at the left curb")
	if got := b.save(); got != "record" {
		t.Fatalf("kept on %s, want on record: %s", got, b.words())
	}
	b.axe()
	b.picture("form-done-phone")

	kept := r.inspections(tag)
	if len(kept) != 1 {
		t.Fatalf("%d inspections on record, want 1", len(kept))
	}
	in := kept[0]
	if ft := in.StateFt(); ft[1] != 4 || ft[1]+ft[3] < length-0.01 || in.Inspector != "Test Person" || in.Notes == "" {
		t.Errorf("got %+v, want 4 ft in CS2 and the rest in CS4", in)
	}
	if len(in.Defects) != 1 || in.Defects[0].Number != 2330 || *in.Defects[0].ToFt != 9 || len(in.Readings) != 1 || in.Readings[0].Position != "crown" {
		t.Errorf("got defects %+v, readings %+v", in.Defects, in.Readings)
	}
	photo, err := r.server.photos().Open(in.Photos)
	if err != nil {
		t.Fatal(err)
	}
	defer photo.Close()
	if size, _, err := image.DecodeConfig(photo); err != nil || size.Width != 1600 || size.Height != 800 {
		t.Errorf("the photo is %d x %d, %v; want 1600 x 800", size.Width, size.Height, err)
	}
}

// Without a link: the route is taken along, the server goes away, an
// inspection and a finding are entered, and what waits is sent once it is
// back; also when an answer was lost.
func TestOfflineInspection(t *testing.T) {
	inBrowser(t)
	r := serveRoadside(t)
	tag := r.dueTags(1)[0]
	b := browsePhone(t, r.url())
	b.do(chromedp.Navigate(r.url() + "/inspect?route=Route+1"))
	b.until("document.body.dataset.ready && navigator.serviceWorker.controller")
	b.tap("#take")
	b.until(`document.querySelector("#taken").dataset.done === "true"`)
	b.axe()

	b.forgive("Failed to load resource") // there is no server
	r.stop()
	b.do(chromedp.Navigate(r.url() + "/inspect?route=Route+1"))
	b.until("document.body.dataset.ready")
	b.openForm(r.url(), tag)
	b.tap(asLastTime)
	b.tap("#add-reading")
	b.fill("#gap-0", "2")
	b.fill("#deck-0", "61")
	b.until(`document.querySelector(".verdict").textContent !== "" && document.querySelector("#check").textContent.includes("when there is a link")`)
	b.do(chromedp.SetUploadFiles(css("#photo"), []string{photoFile(t)}), chromedp.WaitVisible(css(".thumbs img")))
	if got := b.save(); got != "phone" {
		t.Fatalf("kept on %s, want on the phone", got)
	}
	b.do(chromedp.WaitVisible(css("#waiting")))
	b.axe()
	b.picture("waiting-phone")
	b.do(chromedp.Navigate(r.url()+"/findings/new?joint="+tag), chromedp.WaitReady(css("#finding[data-ready]")))
	for _, at := range []string{`[name=kind][value="plate placed"]`, `[name=urgency][value=severe]`, "#save"} {
		b.tap(at)
	}
	b.do(chromedp.WaitVisible(css(`#done[data-kept=phone]`)))
	b.do(chromedp.Navigate(r.url() + "/inspect/J999999"))
	b.until(`document.body.textContent.includes("This page is not on the phone")`)

	r.start()
	again := ask(b, chromedp.Evaluate[string](`(async () => {
		const {all} = await import("/static/field-store.js");
		const item = (await all("queue")).find(i => i.kind === "inspections");
		const r = await fetch("/api/inspections", {method: "POST", body: JSON.stringify({...item.body})}); // its answer is lost
		return r.status + " " + item.body.joint;
	})()`, chromedp.EvalAwaitPromise))
	if again != "201 "+tag {
		t.Errorf("the first try: got %s, want 201 %s", again, tag)
	}
	b.do(chromedp.Navigate(r.url() + "/inspect?route=Route+1"))
	b.until(`document.body.dataset.ready && document.querySelector("#queue").hidden`)
	b.until(`document.querySelector('a.due[data-tag="` + tag + `"] .status')?.textContent !== "waiting to be sent"`)
	if kept := r.inspections(tag); len(kept) != 1 {
		t.Errorf("%d inspections on record, want 1", len(kept))
	}
	found, err := inventory.Findings(t.Context(), r.server.Store.Read(), inventory.FindingFilter{Urgency: "severe", Kind: inventory.PlatePlaced})
	if err != nil || len(found) == 0 || found[len(found)-1].Tag != tag {
		t.Errorf("got %+v, %v; want the plate at %s", found, err, tag)
	}
}

// The battery dies while a form is half filled: the whole browser is killed.
func TestADraftSurvives(t *testing.T) {
	inBrowser(t)
	r := serveRoadside(t)
	tag := r.dueTags(1)[0]
	profile := t.TempDir()
	b := browsePhone(t, r.url(), chromedp.UserDataDir(profile))
	b.openForm(r.url(), tag)
	b.fill("#cs3-1", "7")
	b.fill("#notes", "half done")
	b.tap("#add-reading")
	b.fill("#gap-0", "1.25")
	b.do(chromedp.SetUploadFiles(css("#photo"), []string{photoFile(t)}), chromedp.WaitVisible(css(".thumbs img")))
	b.until(`(kept => kept["gap-0"] === "1.25" && kept.photos === 1)(JSON.parse(document.querySelector("#inspection").dataset.kept || "{}"))`)
	if p := chromedp.FromContext(b.ctx).Browser.Process(); p != nil {
		if err := p.Kill(); err != nil {
			t.Fatal(err)
		}
	} else {
		t.Fatal("there is no browser to kill")
	}

	after := browsePhone(t, r.url(), chromedp.UserDataDir(profile))
	after.openForm(r.url(), tag)
	for field, want := range map[string]string{"#cs3-1": "7", "#notes": "half done", "#gap-0": "1.25"} {
		if got := ask(after, chromedp.Value(css(field))); got != want {
			t.Errorf("%s: got %q, want %q", field, got, want)
		}
	}
	after.do(chromedp.WaitVisible(css("#draft")), chromedp.WaitVisible(css(".thumbs img")))
	after.picture("draft-phone")
	after.follow("#drop-draft")
	after.do(chromedp.WaitReady(css("#inspection[data-ready]")))
	if got := ask(after, chromedp.Value(css("#cs3-1"))); got != "" {
		t.Errorf("begun anew: got %q, want an empty field", got)
	}
}

// Two inspectors at one joint: the second is told, and chooses.
func TestTwoBrowsersAtOneJoint(t *testing.T) {
	inBrowser(t)
	r := serveRoadside(t)
	tag := r.dueTags(1)[0]
	first, second := browsePhone(t, r.url()), browsePhone(t, r.url())
	second.forgive("409")
	for _, b := range []*tab{first, second} {
		b.openForm(r.url(), tag)
		b.tap(asLastTime)
	}
	if got := first.save(); got != "record" {
		t.Fatalf("the first: kept on %s, want on record", got)
	}
	second.fill("#notes", "the second look")
	if got := second.save(); got != "asked" {
		t.Fatalf("the second: %s, want asked", got)
	}
	second.do(chromedp.WaitVisible(css(".asks.conflict")))
	second.axe()
	second.picture("conflict-phone")
	if kept := r.inspections(tag); len(kept) != 1 {
		t.Fatalf("%d inspections on record before the choice, want 1", len(kept))
	}
	second.tap(".asks.conflict .row button:nth-child(2)")
	second.until(`document.querySelector("#queue").hidden`)
	kept := r.inspections(tag)
	if len(kept) != 1 || kept[0].Notes != "the second look" || kept[0].ReplacesID == 0 {
		t.Errorf("got %+v, want the second in the place of the first", kept)
	}
}

// The phone knows where it stands.
func TestNearestJoint(t *testing.T) {
	inBrowser(t)
	r := serveRoadside(t)
	tag := r.dueTags(1)[0]
	j, err := inventory.FindJoint(t.Context(), r.server.Store.Read(), tag)
	if err != nil {
		t.Fatal(err)
	}
	lon, lat, _ := middle(j.Geom)
	accuracy := 5.0
	b := browsePhone(t, r.url())
	ask(b, chromedp.Action[cdp.Empty](func(ctx context.Context, t *chromedp.Target) (cdp.Empty, error) {
		return cdp.Call(ctx, t, emulation.SetGeolocationOverride, emulation.SetGeolocationOverrideParams{Latitude: &lat, Longitude: &lon, Accuracy: &accuracy})
	}))
	ask(b, chromedp.Action[cdp.Empty](func(ctx context.Context, t *chromedp.Target) (cdp.Empty, error) {
		return cdp.Call(ctx, t, browser.SetPermission, browser.SetPermissionParams{
			Permission: &browser.PermissionDescriptor{Name: "geolocation"}, Setting: browser.PermissionSettingGranted, Origin: r.url(),
			BrowserContextID: chromedp.FromContext(ctx).BrowserContextID,
		})
	}))
	b.do(chromedp.Navigate(r.url() + "/inspect?route=Route+1"))
	b.until("document.body.dataset.ready")
	b.tap("#near")
	b.do(chromedp.WaitVisible(css("#near-list a")))
	text := ask(b, chromedp.Text(css("#near-list a")))
	if !strings.HasPrefix(text, tag) || !strings.Contains(text, "0 ft away") {
		t.Errorf("got %q, want %s, 0 ft away", text, tag)
	}
	b.axe()
	b.picture("nearest-phone")
}

// The other side of a finding: reported in half a minute, first on the list
// where it is severe, closed with a note.
func TestAFindingFromReportToClose(t *testing.T) {
	inBrowser(t)
	r := serveRoadside(t)
	tag := r.dueTags(1)[0]
	b := browsePhone(t, r.url())
	b.do(chromedp.Navigate(r.url()+"/findings/new"), chromedp.WaitReady(css("#finding[data-ready]")))
	b.axe()
	b.picture("finding-new-phone")
	b.tap("#save")
	b.until(`!document.querySelector("#wrong-kind").hidden`)
	b.tap(`[name=kind][value="loose steel"]`)
	b.fill("#joint", tag)
	b.fill("#from_ft", "4")
	b.fill("#to_ft", "9")
	b.tap(`[name=urgency][value=severe]`)
	b.do(chromedp.SetUploadFiles(css("#photo"), []string{photoFile(t)}), chromedp.WaitVisible(css(".thumbs img")))
	b.tap("#save")
	b.do(chromedp.WaitVisible(css("#done[data-kept=record]")))
	b.follow("#done .button.big")
	b.until("document.body.dataset.ready")
	b.axe()
	b.picture("findings-phone")
	found, err := inventory.Findings(t.Context(), r.server.Store.Read(), inventory.FindingFilter{Urgency: "severe", Kind: "loose steel"})
	if err != nil || len(found) != 1 || found[0].Tag != tag || found[0].Photos == "" {
		t.Fatalf("got %+v, %v; want one with a photo", found, err)
	}
	card := fmt.Sprintf(".group.severe #finding-%d", found[0].ID)
	b.tap(card + " summary")
	b.do(chromedp.WaitVisible(css(card + " img")))
	b.fill(card+" [name=note]", "tightened")
	b.follow(card + " form button")
	if f, err := inventory.FindFinding(t.Context(), r.server.Store.Read(), found[0].ID); err != nil || f.ClosedNote != "tightened" || f.ClosedOn.IsZero() {
		t.Errorf("got %+v, %v; want it closed with the note", f, err)
	}
}

// The pages at other sizes, in the dark, and on the narrowest phone.
func TestFieldPagesOnAllScreens(t *testing.T) {
	inBrowser(t)
	r := serveRoadside(t)
	tag := r.dueTags(1)[0]
	b := browsePhone(t, r.url())
	for _, screen := range []struct {
		name   string
		size   [2]int64
		scheme string
	}{{"phone-dark", phone, "dark"}, {"narrow", [2]int64{320, 640}, "light"}, {"laptop", laptop, "light"}, {"wide", wide, "dark"}} {
		b.do(chromedp.EmulateViewport(screen.size[0], screen.size[1]))
		b.scheme(screen.scheme)
		for name, path := range map[string]string{"due": "/inspect?route=Route+1", "form": "/inspect/" + tag, "findings": "/findings", "finding": "/findings/new"} {
			b.do(chromedp.Navigate(r.url() + path))
			b.until(`document.body.dataset.ready || document.querySelector("[data-ready]")`)
			if over := ask(b, chromedp.Evaluate[int](`document.documentElement.scrollWidth - innerWidth`)); over > 0 {
				t.Errorf("%s on %s: %d px wider than the screen", path, screen.name, over)
			}
			b.axe()
			b.picture(name + "-" + screen.name)
		}
	}
}
