package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"reseal/condition"
	"reseal/forecast"
	"reseal/inventory"
)

// send posts JSON, or another body as it is, and returns the answer.
func send(t testing.TB, address string, body any) (status int, answer map[string]any) {
	t.Helper()
	raw, ok := body.([]byte)
	if !ok {
		var err error
		if raw, err = json.Marshal(body); err != nil {
			t.Fatal(err)
		}
	}
	r, err := http.Post(address, "application/json", bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	if err := json.NewDecoder(r.Body).Decode(&answer); err != nil {
		t.Fatalf("%s: %d: %v", address, r.StatusCode, err)
	}
	return r.StatusCode, answer
}

// Each path of the document is served, and each route under /api is in it.
func TestOpenAPIIsWhatIsServed(t *testing.T) {
	t.Parallel()
	r := serveRoadside(t)
	tag := r.dueTags(1)[0]
	status, _, body := get(t, r.url()+"/api/openapi.json")
	var doc struct {
		OpenAPI string
		Paths   map[string]map[string]any
	}
	if err := json.Unmarshal([]byte(body), &doc); err != nil || status != http.StatusOK || doc.OpenAPI != "3.0.3" {
		t.Fatalf("got %d, version %q, %v", status, doc.OpenAPI, err)
	}
	for path, operations := range doc.Paths {
		for method := range operations {
			address := r.url() + strings.NewReplacer("{tag}", tag, "{id}", "999999", "{file}", "years", "{list}", "none").Replace(path)
			req, err := http.NewRequest(strings.ToUpper(method), address, strings.NewReader("{}"))
			if err != nil {
				t.Fatal(err)
			}
			got, err := http.DefaultClient.Do(req)
			if err != nil {
				t.Fatal(err)
			}
			answer, _ := io.ReadAll(got.Body)
			got.Body.Close()
			if got.StatusCode >= 500 && got.StatusCode != http.StatusServiceUnavailable || got.StatusCode == http.StatusMethodNotAllowed || strings.Contains(string(answer), "there is no page") || !json.Valid(answer) {
				t.Errorf("%s %s: got %d %.200s", method, path, got.StatusCode, answer)
			}
		}
	}
	source, err := os.ReadFile("field.go")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.SplitSeq(string(source), "\n") {
		_, route, ok := strings.Cut(line, `mux.Handle("`)
		method, path, _ := strings.Cut(route, " ")
		path, _, _ = strings.Cut(path, `"`)
		if !ok || !strings.HasPrefix(path, "/api/") || path == "/api/openapi.json" {
			continue
		}
		if doc.Paths[path][strings.ToLower(method)] == nil {
			t.Errorf("%s %s is served but not in the document", method, path)
		}
	}
}

// TestOneDefinition: the document of the features describes the JSON API too, and
// all that it refers to is in it.
func TestOneDefinition(t *testing.T) {
	_, address := serveSample(t)
	_, _, body := get(t, address+"/ogc/api")
	var doc map[string]any
	if err := json.Unmarshal([]byte(body), &doc); err != nil {
		t.Fatal(err)
	}
	var own struct{ Paths map[string]any }
	if err := json.Unmarshal(openAPI, &own); err != nil {
		t.Fatal(err)
	}
	for path := range own.Paths {
		item, _ := doc["paths"].(map[string]any)[path].(map[string]any)
		if item == nil || fmt.Sprint(item["servers"]) != "[map[url:"+address+"]]" {
			t.Errorf("%s: got %v", path, item)
		}
	}
	for _, list := range [][]string{forecast.JobStates(), inventory.FindingKinds, inventory.Urgencies} {
		if !strings.Contains(body, `"enum":[`+strings.ReplaceAll(quoted(list), ", ", ",")+`]`) {
			t.Errorf("the document lacks the words %q", list)
		}
	}
	for ref := range strings.SplitSeq(body, `"$ref":"#/`) {
		at, _, _ := strings.Cut(ref, `"`)
		if !strings.HasPrefix(at, "components/") {
			continue
		}
		var v any = doc
		for name := range strings.SplitSeq(at, "/") {
			m, _ := v.(map[string]any)
			v = m[name]
		}
		if v == nil {
			t.Errorf("nothing is at %s", at)
		}
	}
}

// TestAPIOfThePlanner: the list and the years as rows, and a decision.
func TestAPIOfThePlanner(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	list := waitForWorkList(t, s)
	const short = "years=3&levels=90"
	projected(t, s, short)
	read := func(path string) (rows []map[string]any) {
		status, h, body := get(t, address+path)
		if err := json.Unmarshal([]byte(body), &rows); err != nil || status != http.StatusOK || h.Get("Content-Type") != "application/json" || h.Get("Content-Disposition") != "" {
			t.Fatalf("%s: got %d %v %v: %.200s", path, status, h, err, body)
		}
		return rows
	}
	rows := read("/api/worklist")
	if len(rows) != len(list.Urgent)+len(list.Ranked)+len(list.Whole) {
		t.Errorf("got %d rows", len(rows))
	}
	if years := read("/api/budget/years?" + short); len(years) == 0 || years[0]["district"] == nil || years[0]["nominal_mean_usd"] == nil {
		t.Errorf("got %v", years)
	}
	tag := list.Ranked[0].Tag
	send := func(body string) (int, string) {
		r, err := http.Post(address+"/api/joints/"+tag+"/decisions", "application/json", strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		b, err := io.ReadAll(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		return r.StatusCode, string(b)
	}
	if status, body := send(`{"what": "exclude"}`); status != http.StatusUnprocessableEntity {
		t.Errorf("without a reason: got %d %s", status, body)
	}
	if status, body := send(`{"what": "exclude", "reason": "the bridge is to go"}`); status != http.StatusOK {
		t.Errorf("got %d %s", status, body)
	}
	waitForWorkList(t, s)
	for _, row := range read("/api/worklist") {
		if row["tag"] == tag && row["part"] == "ranked" {
			t.Errorf("%s is ranked though it was left out", tag)
		}
	}
}

func TestAPIKeepsOnce(t *testing.T) {
	r := serveRoadside(t)
	tag := r.dueTags(1)[0]
	const uid = "6f1c1f1e-9d1c-4b7e-8f6e-2b6f5a0f0a0"
	for name, c := range map[string]struct {
		path string
		body map[string]any
	}{
		"inspection": {"/api/inspections", map[string]any{"joint": tag, "uid": uid + "1", "inspected_on": "2026-06-15", "quick": true, "quick_worst": 3, "accept_odd": true}},
		"reading":    {"/api/readings", map[string]any{"joint": tag, "uid": uid + "2", "read_on": "2026-06-15", "gap_in": 1.5, "deck_temp_f": 61, "accept_odd": true}},
		"finding":    {"/api/findings", map[string]any{"joint": tag, "uid": uid + "3", "kind": "leak"}},
	} {
		t.Run(name, func(t *testing.T) {
			status, first := send(t, r.url()+c.path, c.body)
			if status != http.StatusCreated {
				t.Fatalf("got %d %v, want 201", status, first)
			}
			if status, again := send(t, r.url()+c.path, c.body); status != http.StatusOK || again["id"] != first["id"] {
				t.Errorf("sent again: got %d %v, want 200 and %v", status, again, first["id"])
			}
		})
	}
}

func TestAPIRefuses(t *testing.T) {
	r := serveRoadside(t)
	tag := r.dueTags(1)[0]
	inspection := func(more map[string]any) map[string]any {
		body := map[string]any{"joint": tag, "inspected_on": "2026-06-15"}
		for k, v := range more {
			body[k] = v
		}
		return body
	}
	for _, c := range []struct {
		name, path string
		body       any
		status     int
		want       string
	}{
		{"feet that miss the length", "/api/inspections", inspection(map[string]any{"stretches": []any{map[string]any{"stretch": 1, "cs1_ft": 1}}}), 422, "less than the length"},
		{"another inventory's joint", "/api/inspections", inspection(map[string]any{"joint_uid": "x", "quick": true}), 422, "another inventory"},
		{"a photo that was not sent", "/api/inspections", inspection(map[string]any{"quick": true, "photos": "a.jpg"}), 422, "no photo"},
		{"no such joint", "/api/findings", map[string]any{"joint": "J999999", "kind": "leak"}, 404, "no joint"},
		{"no such field", "/api/findings", map[string]any{"joint": tag, "colour": 1}, 422, "unknown field"},
		{"no photo", "/api/photos", []byte("hello"), 422, "no photo"},
		{"a place that is none", "/api/joints/" + tag + "/verdict", map[string]any{"readings": []any{map[string]any{"gap_in": -1}}}, 422, "cannot be"},
		{"no such finding", "/api/findings/999999/close", map[string]any{"note": "x"}, 404, "no finding"},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, answer := send(t, r.url()+c.path, c.body)
			if status != c.status || !strings.Contains(fmt.Sprint(answer["detail"]), c.want) {
				t.Errorf("got %d %v, want %d %q", status, answer, c.status, c.want)
			}
		})
	}
	if n := len(r.inspections(tag)); n != 0 {
		t.Errorf("%d inspections on record after refusals", n)
	}
}

// A finding can be reported from a browser that runs no script.
func TestFindingWithoutScript(t *testing.T) {
	r := serveRoadside(t)
	tag := r.dueTags(1)[0]
	photo, err := os.ReadFile(photoFile(t))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	for name, v := range map[string]string{"joint": tag, "kind": "complaint", "urgency": "soon", "from_ft": "2", "to_ft": "", "notes": "loud"} {
		form.WriteField(name, v)
	}
	part, err := form.CreateFormFile("photo", "x.jpg")
	if err != nil {
		t.Fatal(err)
	}
	part.Write(photo)
	form.Close()
	answer, err := http.Post(r.url()+"/findings", form.FormDataContentType(), &b)
	if err != nil {
		t.Fatal(err)
	}
	page, _ := io.ReadAll(answer.Body)
	answer.Body.Close()
	found, err := inventory.Findings(t.Context(), r.server.Store.Read(), inventory.FindingFilter{Kind: "complaint", Urgency: "soon"})
	if err != nil || len(found) == 0 {
		t.Fatalf("got %d %v, %v", answer.StatusCode, found, err)
	}
	f := found[len(found)-1]
	if answer.StatusCode != http.StatusOK || f.Tag != tag || *f.FromFt != 2 || f.ToFt != nil || !strings.Contains(string(page), "/photos/"+f.Photos) {
		t.Errorf("got %d and %+v, want the list with the finding and its photo", answer.StatusCode, f)
	}
	status, header, _ := get(t, r.url()+"/photos/"+f.Photos)
	if status != http.StatusOK || header.Get("Content-Type") != "image/jpeg" {
		t.Errorf("the photo: got %d %s", status, header.Get("Content-Type"))
	}
}

// What the page says without a link is what the server says: both judge the
// same invented entries.
func TestThePageJudgesAsTheServerDoes(t *testing.T) {
	inBrowser(t)
	r := serveRoadside(t)
	ctx, db := t.Context(), r.server.Store.Read()
	b := browsePhone(t, r.url())
	random := rand.New(rand.NewPCG(7, 7))
	seen := map[string]int{}
	for _, tag := range r.dueTags(6) {
		b.openForm(r.url(), tag)
		j, err := inventory.FindJoint(ctx, db, tag)
		if err != nil {
			t.Fatal(err)
		}
		k, err := condition.KnownOf(ctx, db, j, inventory.DateOf(today), inventory.DateOf(today))
		if err != nil {
			t.Fatal(err)
		}
		var entries []condition.Entry
		for range 40 {
			entries = append(entries, inventEntry(random, k))
		}
		raw, err := json.Marshal(entries)
		if err != nil {
			t.Fatal(err)
		}
		type said struct {
			Wrong int      `json:"wrong"`
			Odd   []string `json:"odd"`
		}
		got := ask(b, chromedp.Evaluate[[]said](fmt.Sprintf(`(async () => {
			const {judge} = await import("/static/field-judge.js");
			const form = JSON.parse(document.querySelector("#form-data").textContent);
			return %s.map(e => { const j = judge(form, {MaxGapIn: 40, MinTempF: -60, MaxTempF: 180}, e); return {wrong: j.wrong.length, odd: j.odd}; });
		})()`, raw), chromedp.EvalAwaitPromise))
		for i := range entries {
			e := &entries[i]
			for _, f := range e.Stretches {
				f.StretchID = k.Stretches[f.Stretch-1].ID
				e.Feet = append(e.Feet, f.Feet)
			}
			odd, err := condition.Judge(&e.Inspection, k)
			switch {
			case (err != nil) != (got[i].Wrong > 0):
				t.Errorf("%s: the page finds %d faults, the server %v in %+v", tag, got[i].Wrong, err, e)
			case err != nil:
				seen["wrong"]++
			case strings.Join(odd, "\n") != strings.Join(got[i].Odd, "\n"):
				t.Errorf("%s: the page says %q, the server %q of %+v", tag, got[i].Odd, odd, e.Inspection)
			case len(odd) > 0:
				seen["odd"]++
			default:
				seen["right"]++
			}
		}
	}
	for _, kind := range []string{"wrong", "odd", "right"} {
		if seen[kind] < 20 {
			t.Errorf("%d entries are %s: too few to tell", seen[kind], kind)
		}
	}
}

// inventEntry makes an entry that may be right, odd or impossible.
func inventEntry(random *rand.Rand, k *condition.Known) condition.Entry {
	e := condition.Entry{Joint: k.Joint.Tag}
	e.InspectedOn = inventory.DateOf(today)
	if random.IntN(20) == 0 {
		e.InspectedOn = e.InspectedOn.AddDays(2)
	}
	length := k.Stretches[0].LengthFt()
	if random.IntN(8) > 0 {
		ft := [4]float64{}
		rest := length
		if random.IntN(5) == 0 {
			rest += float64(random.IntN(5)) - 2
		}
		if k.Last != nil && random.IntN(2) == 0 { // much as the last time
			ft = k.Last.StateFt()
			rest = 0
		}
		for s := range ft {
			part := float64(random.IntN(int(rest) + 1))
			ft[s] += part
			rest -= part
		}
		ft[random.IntN(4)] += max(rest, 0)
		e.Stretches = []condition.StretchFeet{{Stretch: 1, Feet: condition.Feet{CS1Ft: ft[0], CS2Ft: ft[1], CS3Ft: ft[2], CS4Ft: ft[3]}}}
	}
	if random.IntN(3) == 0 {
		from, to := float64(random.IntN(20)), float64(random.IntN(60))
		e.Defects = append(e.Defects, condition.Defect{Number: 2310 + 10*random.IntN(7), State: 1 + random.IntN(4), FromFt: &from, ToFt: &to})
	}
	for range random.IntN(3) {
		deck := float64(random.IntN(130)) - 10
		m := condition.Reading{ReadOn: e.InspectedOn, GapIn: 4 * random.Float64(), DeckTempF: &deck}
		if random.IntN(15) == 0 {
			m.GapIn = 41
		}
		if random.IntN(15) == 0 {
			deck = 200
		}
		if len(k.Readings) > 0 {
			m.Position = k.Readings[random.IntN(len(k.Readings))].Position
		}
		e.Readings = append(e.Readings, m)
	}
	return e
}
