package web

import (
	"context"
	"fmt"
	"io"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"reseal/forecast/forecasttest"
	"reseal/inventory/store"
)

// The tests here report how fast the server is for 100,000 joints; they take
// minutes, and judge no time: RESEAL_LONG=1 runs them.

// serveMany serves an invented network of 25,000 bridges with four joints each.
func serveMany(t *testing.T) (*Server, string) {
	t.Helper()
	if os.Getenv("RESEAL_LONG") == "" {
		t.Skip("takes minutes: RESEAL_LONG=1 runs it")
	}
	file := filepath.Join(t.TempDir(), "many.gpkg")
	st, err := store.Open(t.Context(), file, store.Options{Create: true, Now: func() time.Time { return today }})
	if err != nil {
		t.Fatal(err)
	}
	if err := forecasttest.Fill(t.Context(), st, 25_000, 1); err != nil {
		t.Fatal(err)
	}
	if err := st.Close(); err != nil {
		t.Fatal(err)
	}
	s, address := serveFile(t, file)
	began := time.Now()
	if _, _, err := s.places.get(t.Context(), s); err != nil {
		t.Fatal(err)
	}
	t.Logf("where 100,000 joints are, and their condition: %.1f s", time.Since(began).Seconds())
	began = time.Now()
	ready(t, s)
	t.Logf("their forecasts and gaps: %.1f s", time.Since(began).Seconds())
	return s, address
}

// memory reports what the process holds.
func memory(t *testing.T, when string) {
	t.Helper()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		status = []byte("VmHWM: not told by this system")
	}
	t.Logf("%s: heap %d MB; of the process, the tests included, %s", when, m.HeapAlloc>>20, regexp.MustCompile(`VmHWM:.*`).Find(status))
}

// TestLongMap times the first picture and pans in software rendering.
func TestLongMap(t *testing.T) {
	_, address := serveMany(t)
	b := browse(t, address, laptop)
	b.do(chromedp.Navigate(address+"/findings"), chromedp.Sleep(5*time.Second)) // what a browser does when it begins takes both processors
	for _, name := range []string{"first time", "with the browser's cache"} {
		before := processorSeconds(t)
		b.do(chromedp.Navigate(address + "/map?by=urgency"))
		b.await(`performance.getEntriesByName("map-drawn").length`)
		drawn := ask(b, chromedp.Evaluate[float64](`performance.getEntriesByName("map-drawn")[0].startTime`))
		t.Logf("first picture of all bridges, %s: %.2f s; processor time of browser and server %.2f s", name, drawn/1000, processorSeconds(t)-before)
	}
	b.await(`document.getElementById("map").map.getLayer("states") && document.getElementById("map").map.loaded()`)
	b.picture("map-100000")
	for _, zoom := range []float64{8, 11, 15} {
		b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`void document.getElementById("map").map.jumpTo({center: [-120.5, 44.5], zoom: %g})`, zoom)))
		b.await(`document.getElementById("map").map.loaded()`)
		before := processorSeconds(t)
		frames := ask(b, chromedp.Evaluate[[]float64](`(async () => {
			const map = document.getElementById("map").map, took = [];
			for (let i = 0; i < 10; i++) {
				const began = performance.now();
				const drawn = new Promise(done => map.once("render", done));
				map.panBy([i % 10 < 5 ? 30 : -30, 0], {duration: 0});
				await drawn;
				took.push(performance.now() - began);
			}
			return took.sort((a, b) => a - b);
		})()`, chromedp.EvalAwaitPromise))
		t.Logf("pan at zoom %g: median %.0f ms, slowest %.0f ms; processor time of browser and server %.0f ms a frame",
			zoom, frames[len(frames)/2], frames[len(frames)-1], 1000*(processorSeconds(t)-before)/float64(len(frames)))
	}
	tiles := ask(b, chromedp.Evaluate[[]float64](`performance.getEntriesByType("resource").filter(e => e.name.includes("/tiles/")).map(e => e.duration).sort((a, b) => a - b)`))
	if len(tiles) > 0 {
		t.Logf("%d tiles seen by the page: median %.0f ms, slowest %.0f ms", len(tiles), tiles[len(tiles)/2], tiles[len(tiles)-1])
	}
	memory(t, "after the map")
}

// processorSeconds is what this process and its children have used of the
// processors: other programs disturb it less than the clock. 0 where the system
// does not tell.
func processorSeconds(t *testing.T) (sum float64) {
	t.Helper()
	parent, used := map[int]int{}, map[int]float64{}
	all, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range all {
		b, err := os.ReadFile(path)
		if err != nil {
			continue // it has ended
		}
		var pid int
		fmt.Sscan(string(b), &pid)
		f := strings.Fields(string(b[strings.LastIndexByte(string(b), ')')+1:]))
		parent[pid], _ = strconv.Atoi(f[1])
		for _, ticks := range f[11:13] { // of a hundredth of a second, proc(5)
			n, _ := strconv.ParseFloat(ticks, 64)
			used[pid] += n / 100
		}
	}
	for pid := range used {
		for p := pid; p > 1; p = parent[p] {
			if p == os.Getpid() {
				sum += used[pid]
				break
			}
		}
	}
	return sum
}

// alone is how often each page is asked for before the load.
const alone = 5

// users is how many people use the pages at once; each opens one a second, at a
// moment of their own.
const users = 50

// TestLongPages times pages under load for a minute.
func TestLongPages(t *testing.T) {
	_, address := serveMany(t)
	paths := []string{
		"/", "/map?by=urgency", "/map/list?by=urgency&box=-120.9,44.2,-120.1,44.9", "/map/card?joint=J000123", "/tiles/urgency/8/42/92.mvt",
		"/tiles/condition/14/2706/5928.mvt", "/joints", "/joints?district=2", "/joints/J000123", "/worklist", "/inspect", "/findings",
		"/ogc/collections/joints/items?limit=100", "/ogc/collections/bridges/items?bbox=-120.6,44.2,-120.5,44.3",
	}
	wait := time.NewTicker(time.Second)
	defer wait.Stop()
	for _, p := range paths { // each once, so that what is kept is made
		began := time.Now()
		status, _, body := get(t, address+p)
		for ; (status == http.StatusAccepted || status == http.StatusServiceUnavailable) && time.Since(began) < 5*time.Minute; status, _, body = get(t, address+p) {
			<-wait.C
		}
		if status != http.StatusOK {
			t.Fatalf("%s: %d %.200s", p, status, body)
		}
		first, used, bytes := time.Since(began), processorSeconds(t), len(body)
		began = time.Now()
		for range alone {
			get(t, address+p)
		}
		t.Logf("%-60s first %4.1f s, then alone %6.1f ms, processor %6.1f ms, %4d kB", p, first.Seconds(),
			float64(time.Since(began).Milliseconds())/alone, 1000*(processorSeconds(t)-used)/alone, bytes>>10)
	}
	memory(t, "before the load")
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	var mu sync.Mutex
	took := map[string][]time.Duration{}
	var wg sync.WaitGroup
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: users}}
	for user := range users {
		wg.Go(func() {
			select {
			case <-time.After(time.Duration(user) * time.Second / users):
			case <-ctx.Done():
				return
			}
			tick := time.NewTicker(time.Second)
			defer tick.Stop()
			for n := user; ; n++ {
				p := paths[n%len(paths)]
				began := time.Now()
				status, err := visit(ctx, client, address+p)
				if ctx.Err() != nil {
					return
				}
				if err != nil || status != http.StatusOK {
					t.Errorf("%s: %d %v", p, status, err)
				}
				mu.Lock()
				took[p] = append(took[p], time.Since(began))
				mu.Unlock()
				select {
				case <-tick.C:
				case <-ctx.Done():
					return
				}
			}
		})
	}
	wg.Wait()
	var all []time.Duration
	for _, p := range slices.Sorted(maps.Keys(took)) {
		t.Logf("%-60s %s", p, percentiles(took[p]))
		all = append(all, took[p]...)
	}
	t.Logf("%-60s %s", "all", percentiles(all))
	memory(t, "after the load")
}

func visit(ctx context.Context, c *http.Client, address string) (status int, err error) {
	r, err := http.NewRequestWithContext(ctx, "GET", address, nil)
	if err != nil {
		return 0, err
	}
	answer, err := c.Do(r)
	if err != nil {
		return 0, err
	}
	defer answer.Body.Close()
	_, err = io.Copy(io.Discard, answer.Body)
	return answer.StatusCode, err
}

func percentiles(d []time.Duration) string {
	slices.Sort(d)
	at := func(p int) float64 { return float64(d[min(len(d)-1, len(d)*p/100)].Microseconds()) / 1000 }
	return fmt.Sprintf("%5d times: p50 %6.1f ms, p99 %6.1f ms", len(d), at(50), at(99))
}
