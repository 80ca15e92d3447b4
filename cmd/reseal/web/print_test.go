package web

import (
	"bytes"
	"context"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// Papers in inches: US Letter (ANSI/ASME Y14.1, size A) and A4 (ISO 216).
var papers = map[string][2]float64{"Letter": {8.5, 11}, "A4": {8.27, 11.69}}

// TestPrint prints each page that people take along. On paper nothing is left
// that only a screen needs, nothing runs over the edge, and what people come for
// is there to be read.
func TestPrint(t *testing.T) {
	inBrowser(t)
	s, address := serveComplete(t)
	bridge := bridgeOf(t, s, "J000007")
	b := browse(t, address, laptop)
	for name, p := range map[string]struct {
		path, await string
		says        []string
		most        int // pages
	}{
		"worklist": {"/worklist?budget=400000", ".item", []string{"Work list", "cost of waiting", "licensed engineer"}, 60},
		"approved": {"/worklist/approved?list=FY27", ".jobs .item", []string{"FY27", "licensed engineer"}, 40},
		"joint":    {"/joints/J000007", "#h-when ~ .big", []string{"J000007"}, 8},
		"bridge":   {bridgePath(bridge.State, bridge.StructureNumber), ".bridge-joints dd", []string{bridge.StructureNumber, "J000007"}, 6},
		"joints":   {"/joints", ".joint-list .cond", []string{"J0000"}, 20},
		"findings": {"/findings", ".finding h3", []string{"Findings", "engineer"}, 20},
		"inspect":  {"/inspect", ".routes a", []string{"Inspect"}, 10},
		"budget":   {"/budget", ".means li", []string{"Budget", "80 %", "nominal"}, 12},
		"plans":    {"/worklist/plans", ".lead", []string{"plan"}, 4},
	} {
		b.do(chromedp.Navigate(address+p.path), chromedp.WaitReady(css(p.await)))
		for paper, size := range papers {
			b.asPrinted(size[0] - 1.1) // less margins of 14 mm
			b.picture("print-" + name + "-" + paper)
			over := ask(b, chromedp.Evaluate[[]string](overTheEdge))
			if len(over) > 0 {
				t.Errorf("%s on %s: over the edge: %v", name, paper, over)
			}
			left := ask(b, chromedp.Evaluate[[]string](`[...document.querySelectorAll("button, .places, input[type=range], input[type=file], select, .skip")]
				.filter(e => e.checkVisibility() && e.getBoundingClientRect().width > 1).map(e => e.outerHTML.slice(0, 90))`))
			if len(left) > 0 {
				t.Errorf("%s on %s: for a screen only: %v", name, paper, left)
			}
			b.asOnScreen()
			text, pages := b.printed(size)
			if pages > p.most {
				t.Errorf("%s on %s: %d pages, want at most %d", name, paper, pages, p.most)
			}
			for _, want := range p.says {
				if text != "" && !strings.Contains(strings.ToLower(text), strings.ToLower(want)) {
					t.Errorf("%s on %s: %q is not on paper: %.600s", name, paper, want, text)
				}
			}
		}
	}
}

// overTheEdge names the innermost things seen that reach beyond the paper.
const overTheEdge = `[...document.querySelectorAll("main *")]
	.filter(e => e.checkVisibility() && !e.closest("svg") && e.getBoundingClientRect().right > innerWidth + 1)
	.filter((e, _, all) => !all.some(o => o !== e && e.contains(o))).slice(0, 5).map(e => e.outerHTML.slice(0, 120))`

// asPrinted shows the page as it is laid out on paper of a width in inches.
func (b *tab) asPrinted(inches float64) {
	b.media("print")
	b.do(chromedp.EmulateViewport(int64(inches*96), 1000))
}

func (b *tab) asOnScreen() {
	b.media("")
	b.do(chromedp.EmulateViewport(laptop[0], laptop[1]))
}

func (b *tab) media(name string) {
	ask(b, chromedp.Action[cdp.Empty](func(ctx context.Context, t *chromedp.Target) (cdp.Empty, error) {
		return cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: name})
	}))
}

var pagesOf = regexp.MustCompile(`/Type\s*/Page[^s]`)

// printed is the text of the page in print, empty where pdftotext is missing,
// and how many pages it takes.
func (b *tab) printed(paper [2]float64) (text string, pages int) {
	b.Helper()
	pdf := ask(b, chromedp.Action[page.PrintToPDFResult](func(ctx context.Context, t *chromedp.Target) (page.PrintToPDFResult, error) {
		return cdp.Call(ctx, t, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: paper[0], PaperHeight: paper[1]})
	})).Data
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		return "", len(pagesOf.FindAll(pdf, -1))
	}
	c := exec.CommandContext(b.ctx, tool, "-layout", "-", "-")
	c.Stdin = bytes.NewReader(pdf)
	out, err := c.Output()
	if err != nil {
		b.Fatal(err)
	}
	return strings.Join(strings.Fields(string(out)), " "), bytes.Count(out, []byte("\f"))
}
