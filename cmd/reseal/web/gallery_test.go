package web

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"reseal/forecast"
	"reseal/inventory/store"
)

// TestGallery makes the pictures of testdata/pages, which README shows: every
// page of the invented network on a phone, a laptop and a large screen, in light
// and dark. It also fails where a page is wider than its screen.
func TestGallery(t *testing.T) {
	dir := os.Getenv("RESEAL_GALLERY")
	if dir == "" {
		t.Skip("makes pictures: RESEAL_GALLERY names the folder")
	}
	s, address := serveSample(t)
	underWay(t, s, approveList(t, s, "FY27"))
	bridge := bridgeOf(t, s, "J000930")
	ready(t, s)
	b := browsePhone(t, address) // with the clock of the tests
	compareTwo(s, b, address)
	plans := ask(b, chromedp.Evaluate[string]("location.pathname + location.search"))
	projected(t, s, "")
	waitForWorkList(t, s)
	for _, screen := range []struct {
		name  string
		size  [2]int64
		scale float64
	}{{"phone", phone, 0.8}, {"laptop", laptop, 0.6}, {"large", wide, 0.45}} {
		b.do(chromedp.EmulateViewport(screen.size[0], screen.size[1]))
		for _, scheme := range []string{"light", "dark"} {
			b.scheme(scheme)
			for _, p := range []struct{ name, path, ready string }{
				{"start", "/", "main"},
				{"map", "/map?by=urgency", "#map"},
				{"worklist", "/worklist?budget=400000", "#ranked"},
				{"approved", "/worklist/approved?list=FY27", ".jobs"},
				{"bridge", bridgePath(bridge.State, bridge.StructureNumber), "#history"},
				{"joints", "/joints?sort=condition", ".joint-list"},
				{"joint", "/joints/J000007", "#history"},
				{"inspect", "/inspect", ".routes"},
				{"form", "/inspect/J000007", "form"},
				{"findings", "/findings", ".group"},
				{"finding", "/findings/new", "form"},
				{"budget", "/budget", ".means"},
				{"plans", plans, "main"},
				{"data", "/data", "form.drop"},
				{"check", "/data/check", "main"},
				{"settings", "/data/settings", "main"},
			} {
				b.do(chromedp.Navigate(address+p.path), chromedp.WaitVisible(css(p.ready)))
				if p.name == "map" {
					b.await(`performance.getEntriesByName("map-drawn").length`)
					b.await(`document.getElementById("map").map.getLayer("states") && document.getElementById("map").map.loaded()`)
				}
				if wider := ask(b, chromedp.Evaluate[bool]("document.documentElement.scrollWidth > innerWidth")); wider {
					t.Errorf("%s on %s is wider than the screen", p.name, screen.name)
				}
				name := p.name + "-" + screen.name + "-" + scheme + ".webp"
				if err := os.WriteFile(filepath.Join(dir, name), b.small(screen.size, screen.scale), 0o644); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
}

// underWay moves the first jobs of a list on, each to another state.
func underWay(t *testing.T, s *Server, jobs []forecast.Job) {
	t.Helper()
	err := s.Store.Update(t.Context(), "Alder", func(ctx context.Context, tx *store.Tx) error {
		cost := int64(612_500)
		for i, steps := range []([]forecast.Step){
			{{To: forecast.Programmed}, {To: forecast.Obligated, Contract: "C-2027-014"}, {To: forecast.Completed, ActualCents: &cost}},
			{{To: forecast.Programmed}, {To: forecast.Obligated, Contract: "C-2027-014"}},
			{{To: forecast.Programmed}},
		} {
			for _, step := range steps {
				if err := jobs[i].Move(ctx, tx, step, s.today()); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// small is a picture of the screen, scaled down, as WebP.
func (b *tab) small(size [2]int64, scale float64) []byte {
	b.Helper()
	shot := ask(b, chromedp.Action[page.CaptureScreenshotResult](func(ctx context.Context, t *chromedp.Target) (page.CaptureScreenshotResult, error) {
		return cdp.Call(ctx, t, page.CaptureScreenshot, page.CaptureScreenshotParams{
			Format: page.CaptureScreenshotFormatWebp, Quality: new(int64(50)),
			Clip: &page.Viewport{Width: float64(size[0]), Height: float64(size[1]), Scale: scale},
		})
	}))
	return []byte(shot.Data)
}
