package web

import (
	"context"
	"fmt"
	"iter"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// Sizes of screens.
var (
	phone  = [2]int64{375, 740}
	small  = [2]int64{320, 640} // the smallest that pages are made for
	laptop = [2]int64{1366, 768}
	wide   = [2]int64{2560, 1440}
)

// tab is a browser's tab, opened for one test.
type tab struct {
	testing.TB
	ctx     context.Context
	address string // of the server

	mu        sync.Mutex
	faults    []string
	forgiven  string // a part of the messages that are no fault
	otherHost func(*url.URL) bool
}

type (
	action = chromedp.Action[chromedp.Void]
	css    = chromedp.CSS
)

// inBrowser begins a test that drives a browser, which runs beside others of its
// kind. It is skipped where short tests are asked for, before anything is made
// for it: a browser that draws in software takes long, and shows nothing of what
// goes on at once in Go.
func inBrowser(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser that draws in software takes long")
	}
	if _, err := exec.LookPath("chromium"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("chromium is not installed")
		}
		t.Skip("chromium is not installed")
	}
	t.Parallel()
}

// theBrowser is the one process that the tests share; each has a context of its
// own, with its own cookies, storage and service workers.
var theBrowser sharedBrowser

type sharedBrowser struct {
	mu   sync.Mutex
	ctx  context.Context
	ends []context.CancelFunc
}

// browserOptions are those of every browser process.
func browserOptions(more ...chromedp.ExecAllocatorOption) []chromedp.ExecAllocatorOption {
	return append(append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("chromium"), chromedp.NoSandbox,
		chromedp.Flag("use-angle", "swiftshader"), chromedp.Flag("enable-unsafe-swiftshader", true),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1")), more...)
}

// tab opens a tab in a context of its own.
func (s *sharedBrowser) tab(t testing.TB) context.Context {
	t.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ctx == nil || s.ctx.Err() != nil {
		process, end := chromedp.NewExecAllocator(context.Background(), browserOptions()...)
		ctx, stop := chromedp.NewContext(process)
		if err := chromedp.Do(ctx); err != nil {
			end()
			t.Fatal(err)
		}
		s.ctx, s.ends = ctx, append(s.ends, stop, end)
	}
	ctx, stop := chromedp.NewContext(s.ctx, chromedp.WithNewBrowserContext())
	t.Cleanup(stop)
	return ctx
}

func (s *sharedBrowser) stop() {
	for _, end := range s.ends {
		end()
	}
}

// browse opens a tab for a test; with options, in a browser process of its own. At
// the end the test fails if the page wrote an error on its console, threw, or
// asked another host for anything.
func browse(t testing.TB, address string, size [2]int64, own ...chromedp.ExecAllocatorOption) *tab {
	t.Helper()
	var ctx context.Context
	if len(own) == 0 {
		ctx = theBrowser.tab(t)
	} else {
		process, end := chromedp.NewExecAllocator(t.Context(), browserOptions(own...)...)
		t.Cleanup(end)
		var stop context.CancelFunc
		ctx, stop = chromedp.NewContext(process)
		t.Cleanup(stop)
	}
	server, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	b := &tab{TB: t, ctx: ctx, address: address}
	b.otherHost = func(u *url.URL) bool {
		return (u.Scheme == "http" || u.Scheme == "https" || u.Scheme == "ws" || u.Scheme == "wss") && u.Host != server.Host
	}
	go b.readConsole(chromedp.Console(ctx))
	go b.readRequests(chromedp.Events(ctx, network.RequestWillBeSent))
	b.do(chromedp.EmulateViewport(size[0], size[1]))
	ask(b, chromedp.Action[cdp.Empty](func(ctx context.Context, t *chromedp.Target) (cdp.Empty, error) { // beside other tabs
		return cdp.Call(ctx, t, emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true})
	}))
	t.Cleanup(func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		for _, f := range b.faults {
			t.Error(f)
		}
	})
	return b
}

func (b *tab) fault(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.forgiven == "" || !strings.Contains(text, b.forgiven) {
		b.faults = append(b.faults, text)
	}
}

// forgive makes messages with a part no fault from now on: a test that takes
// the server away expects failed requests.
func (b *tab) forgive(part string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.forgiven = part
}

func (b *tab) readConsole(messages iter.Seq2[chromedp.ConsoleMessage, error]) {
	for m, err := range messages {
		if err != nil {
			return
		}
		if m.IsException() || m.Type == "error" {
			b.fault("console: %s %s:%d", m.Text, m.URL, m.Line)
		}
	}
}

func (b *tab) readRequests(requests iter.Seq2[network.EventRequestWillBeSent, error]) {
	for r, err := range requests {
		if err != nil {
			return
		}
		if u, err := url.Parse(r.Request.URL); err != nil || b.otherHost(u) {
			b.fault("asked another host: %s", r.Request.URL)
		}
	}
}

// do runs actions one after the other and fails the test where one fails or
// takes too long, with the words on the page.
func (b *tab) do(actions ...action) {
	b.Helper()
	ctx, stop := context.WithTimeout(b.ctx, 60*time.Second)
	defer stop()
	if err := chromedp.Do(ctx, actions...); err != nil {
		b.Fatalf("%v\non the page: %s", err, b.words())
	}
}

// ask runs an action and returns its value.
func ask[T any](b *tab, a chromedp.Action[T]) T {
	b.Helper()
	ctx, stop := context.WithTimeout(b.ctx, 60*time.Second)
	defer stop()
	v, err := chromedp.Run(ctx, a)
	if err != nil {
		b.Fatalf("%v\non the page: %s", err, b.words())
	}
	return v
}

// follow clicks on what leads to another page, and waits for it.
func (b *tab) follow(selector string) {
	b.Helper()
	ask(b, chromedp.WaitEvent(page.LoadEventFired, nil, chromedp.Click(css(selector))))
}

// submit presses keys that lead to another page, and waits for it.
func (b *tab) submit(keys string) {
	b.Helper()
	ask(b, chromedp.WaitEvent(page.LoadEventFired, nil, chromedp.KeyEvent(keys)))
}

// named gives the browser the name that goes on record.
func (b *tab) named(person string) {
	b.Helper()
	b.do(chromedp.Navigate(b.address+"/"), chromedp.Click(css(".person summary")), chromedp.SetValue(css("#person-name"), person))
	b.follow(".person button")
}

// words are those on the page, for the message of a failed test.
func (b *tab) words() string {
	ctx, stop := context.WithTimeout(b.ctx, 3*time.Second)
	defer stop()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`location.href + "\n" + document.body.innerText.slice(0, 2000)`))
	if err != nil {
		return err.Error()
	}
	return text
}

// scheme asks the pages for their light or dark colours.
func (b *tab) scheme(name string) {
	b.Helper()
	ask(b, chromedp.Action[cdp.Empty](func(ctx context.Context, t *chromedp.Target) (cdp.Empty, error) {
		return cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}},
		})
	}))
}

// axe fails the test where axe-core finds a serious fault on the page shown.
func (b *tab) axe() {
	b.Helper()
	code, err := os.ReadFile("vendored/node_modules/axe-core/axe.min.js")
	if err != nil {
		if os.Getenv("CI") == "true" {
			b.Fatal("axe-core is not installed: npm ci in vendored/")
		}
		b.Log("axe-core is not installed (npm ci in vendored/): accessibility is not checked")
		return
	}
	type fault struct {
		ID     string   `json:"id"`
		Impact string   `json:"impact"`
		Help   string   `json:"help"`
		Where  []string `json:"where"`
	}
	if there := ask(b, chromedp.Evaluate[bool]("!!window.axe")); !there {
		b.do(chromedp.Evaluate[chromedp.Void](string(code)))
	}
	found := ask(b, chromedp.Evaluate[[]fault](
		`axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], resultTypes: ["violations"]}).then(r => r.violations.map(v => (
			{id: v.id, impact: v.impact, help: v.help, where: v.nodes.slice(0, 4).map(n => n.html.slice(0, 200) + " " + n.failureSummary)})))`,
		chromedp.EvalAwaitPromise))
	for _, f := range found {
		if f.Impact == "serious" || f.Impact == "critical" {
			b.Errorf("axe: %s (%s): %s\n%s", f.ID, f.Impact, f.Help, strings.Join(f.Where, "\n"))
		}
	}
}

// picture keeps a picture of the page where RESEAL_PICTURES names a folder,
// for people to look at.
func (b *tab) picture(name string) {
	b.Helper()
	dir := os.Getenv("RESEAL_PICTURES")
	if dir == "" {
		return
	}
	png := ask(b, chromedp.CaptureScreenshot())
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		b.Fatal(err)
	}
}

// whole is picture of the page's whole length.
func (b *tab) whole(name string) {
	b.Helper()
	dir := os.Getenv("RESEAL_PICTURES")
	if dir == "" {
		return
	}
	png := ask(b, chromedp.FullScreenshot(100))
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		b.Fatal(err)
	}
}
