package web

import (
	"testing"

	"github.com/chromedp/chromedp"
)

// TestFirstScreenOnAPhone holds each page to begin, on the smallest screen, with
// what people come for: it stands there before anybody scrolls.
func TestFirstScreenOnAPhone(t *testing.T) {
	inBrowser(t)
	s, address := serveComplete(t)
	bridge := bridgeOf(t, s, "J000007")
	b := browse(t, address, small)
	for name, p := range map[string]struct{ path, comesFor string }{
		"start":     {"/", ".standing a"},
		"map":       {"/map", "#map canvas"},
		"worklist":  {"/worklist?budget=400000", "#h-buys + .lead strong"},
		"approved":  {"/worklist/approved?list=FY27", ".jobs .do"},
		"joints":    {"/joints", ".joint-list .cond"},
		"joint":     {"/joints/J000007", "#h-when ~ .big"},
		"bridge":    {bridgePath(bridge.State, bridge.StructureNumber), ".bridge-joints dd"},
		"inspect":   {"/inspect", ".routes a"},
		"form":      {"/inspect/J000007", "form fieldset"},
		"findings":  {"/findings", ".finding h3"},
		"finding":   {"/findings/new", "[name=kind]"},
		"budget":    {"/budget", ".means li"},
		"plans":     {"/worklist/plans", ".lead"},
		"data":      {"/data", "#file"},
		"check":     {"/data/check", ".rules h3"},
		"settings":  {"/data/settings", `a[href^="/data/tables/"]`},
		"selection": {"/map/selection", "tbody th a"},
	} {
		b.do(chromedp.Navigate(address+p.path), chromedp.WaitReady(css(p.comesFor)))
		b.picture("first-" + name)
		end := ask(b, chromedp.Evaluate[float64](`document.querySelector('`+p.comesFor+`').getBoundingClientRect().top + 24`))
		nav := ask(b, chromedp.Evaluate[float64](`document.querySelector(".places").getBoundingClientRect().top`))
		if end > nav {
			t.Errorf("%s: %s ends at %.0f px, under the fold at %.0f", name, p.comesFor, end, nav)
		}
	}
}
