package web

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"io/fs"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"reseal/forecast"
	"reseal/inventory/setting"
	"reseal/inventory/store"
)

// sendFile posts a form with a file and returns the page that it leads to.
func sendFile(t testing.TB, address, name, text string, values ...string) (*http.Response, string) {
	t.Helper()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	for i := 0; i+1 < len(values); i += 2 {
		form.WriteField(values[i], values[i+1])
	}
	part, err := form.CreateFormFile("file", name)
	if err != nil {
		t.Fatal(err)
	}
	io.WriteString(part, text)
	form.Close()
	r, err := http.Post(address, form.FormDataContentType(), &b)
	if err != nil {
		t.Fatal(err)
	}
	return read(t, r)
}

// read reads a page; where it is that of a job, the one that the job leads to.
func read(t testing.TB, r *http.Response) (*http.Response, string) {
	t.Helper()
	for {
		page, err := io.ReadAll(r.Body)
		r.Body.Close()
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(r.Request.URL.Path, "/data/jobs/") || r.StatusCode >= 400 {
			return r, string(page)
		}
		if r, err = http.Get(r.Request.URL.String()); err != nil {
			t.Fatal(err)
		}
	}
}

// waiting are the files that wait to be confirmed.
func waiting(t testing.TB, s *Server) (files []string) {
	t.Helper()
	entries, err := os.ReadDir(s.uploads.dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		files = append(files, e.Name())
	}
	return files
}

// TestEveryPostRefusesAnotherSite finds the routes that change something in
// the code itself, so that a new one is held to it too.
func TestEveryPostRefusesAnotherSite(t *testing.T) {
	s, address := serveFile(t, filepath.Join(t.TempDir(), "new.gpkg"))
	routes := regexp.MustCompile(`Handle(?:Func)?\("(POST|PUT|PATCH|DELETE) (/[^"]*)"`)
	found := 0
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		code, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range routes.FindAllStringSubmatch(string(code), -1) {
			found++
			path := regexp.MustCompile(`\{[^}]*\}`).ReplaceAllString(m[2], "x")
			for header, value := range map[string]string{"Origin": "https://example.org", "Sec-Fetch-Site": "cross-site"} {
				r := httptest.NewRequest(m[1], address+path, nil)
				r.Header.Set(header, value)
				w := httptest.NewRecorder()
				s.Handler().ServeHTTP(w, r)
				if w.Code != http.StatusForbidden {
					t.Errorf("%s %s with %s %s: got %d, want %d", m[1], path, header, value, w.Code, http.StatusForbidden)
				}
			}
		}
	}
	if found < 10 {
		t.Errorf("only %d routes found; the check sees too little", found)
	}
}

func TestEveryAnswerHasItsHeaders(t *testing.T) {
	_, address := serveFile(t, filepath.Join(t.TempDir(), "new.gpkg"))
	for _, path := range []string{"/", "/data", "/nowhere", "/static/base.css", "/static/../server.go", "/data/template/joints.csv", "/data/jobs/x/progress"} {
		_, h, _ := get(t, address+path)
		for name, want := range map[string]string{
			"Content-Security-Policy": "default-src 'self'", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin",
		} {
			if got := h.Get(name); !strings.Contains(got, want) {
				t.Errorf("%s: got %s %q, want %q", path, name, got, want)
			}
		}
		for _, want := range []string{"object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"} {
			if got := h.Get("Content-Security-Policy"); !strings.Contains(got, want) || strings.Contains(got, "unsafe") {
				t.Errorf("%s: got policy %q, want %s and nothing unsafe", path, got, want)
			}
		}
	}
}

// TestPagesHaveNothingInline holds the pages to what the policy lets through.
func TestPagesHaveNothingInline(t *testing.T) {
	inline := regexp.MustCompile(`(?i)\s(style|on[a-z]+)=["']|<style|<script(?:\s+type="module")?\s*>|javascript:`)
	err := fs.WalkDir(pageFiles, "pages", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		page, err := pageFiles.ReadFile(name)
		if found := inline.Find(page); found != nil {
			t.Errorf("%s has %q, which browsers refuse under the policy", name, found)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestPathsStayInside(t *testing.T) {
	s, address := serveSample(t)
	if _, page := sendFile(t, address+"/data/import", `..\..\../../etc/passwd.csv`, "tag,kind,found,urgency\nJ000001,plough strike,2026-01-02,soon\n"); !strings.Contains(page, "What is in passwd.csv") {
		t.Errorf("the name was not cut to its last part:\n%s", page)
	}
	for _, path := range []string{
		"/static/..%2fserver.go", "/static/%2e%2e/%2e%2e/go.mod", "/data/import/..%2f..%2fgo.mod", "/data/import/" + waiting(t, s)[0] + "-bad",
		"/data/import/%2e%2e/rejected", "/data/template/..%2fjoints.csv", "/data/tables/settings", "/data/tables/history/export/csv",
		"/data/tables/treatments%20UNION%20SELECT/export/csv",
	} {
		if status, _, page := get(t, address+path); status != http.StatusNotFound {
			t.Errorf("%s: got %d, want not found:\n%.500s", path, status, page)
		}
	}
}

// TestWhatPeopleWriteIsText sends markup in every place that a page shows.
func TestWhatPeopleWriteIsText(t *testing.T) {
	_, address := serveSample(t)
	const markup = `<img src=x onerror=alert(1)>`
	pages := map[string]string{}
	_, pages["file name, column and cell"] = sendFile(t, address+"/data/import", markup+".csv", "tag,kind,found,urgency,"+markup+"\nJ000001,"+markup+",2026-01-02,soon\n")
	_, pages["no such rule"], _ = getPage(t, address+"/data/check?rule="+markup)
	_, pages["no such row"], _ = getPage(t, address+"/data/tables/treatments/row?key="+markup)
	_, pages["a value"] = postForm(t, address+"/data/settings/failed_share", "value", markup)
	_, pages["a row"] = postForm(t, address+"/data/tables/treatments/row", "name", markup, "cost_per_ft_usd", markup, "price_year", "2026", "source", markup)
	postForm(t, address+"/data/tables/consequences/row", "cause", markup, "dollars_a_year", "10", "per", "ft", "source", markup)
	_, pages["a table"], _ = getPage(t, address+"/data/tables/consequences")
	for name, page := range pages {
		if strings.Contains(page, "<img") {
			t.Errorf("%s: markup came through:\n%s", name, page)
		}
		if !strings.Contains(page, "&lt;img") {
			t.Errorf("%s: what was written is not shown at all:\n%s", name, page)
		}
	}
}

func getPage(t testing.TB, address string) (int, string, http.Header) {
	t.Helper()
	status, header, page := get(t, strings.NewReplacer("<", "%3C", ">", "%3E", " ", "%20").Replace(address))
	return status, page, header
}

func postForm(t testing.TB, address string, values ...string) (int, string) {
	t.Helper()
	form := map[string][]string{}
	for i := 0; i+1 < len(values); i += 2 {
		form[values[i]] = []string{values[i+1]}
	}
	r, err := http.PostForm(address, form)
	if err != nil {
		t.Fatal(err)
	}
	r, page := read(t, r)
	return r.StatusCode, page
}

func TestLimits(t *testing.T) {
	s, address := serveFile(t, filepath.Join(t.TempDir(), "new.gpkg"))
	h := s.server()
	for name, set := range map[string]bool{
		"header": h.ReadHeaderTimeout > 0, "read": h.ReadTimeout > 0, "write": h.WriteTimeout > 0, "idle": h.IdleTimeout > 0, "header bytes": h.MaxHeaderBytes > 0,
	} {
		if !set {
			t.Errorf("the server has no limit on %s", name)
		}
	}
	t.Run("form", func(t *testing.T) {
		if status, page := postForm(t, address+"/person", "name", "Alder", "more", strings.Repeat("x", formBytes)); status != http.StatusRequestEntityTooLarge {
			t.Errorf("got %d %.200s, want %d", status, page, http.StatusRequestEntityTooLarge)
		}
	})
	t.Run("file", func(t *testing.T) {
		small := httptest.NewServer(s.limited(1000, s.importFile, s.errorPage))
		defer small.Close()
		r, page := sendFile(t, small.URL, "large.csv", strings.Repeat("tag\n", 1000))
		if r.StatusCode != http.StatusRequestEntityTooLarge {
			t.Errorf("got %d %.500s, want %d", r.StatusCode, page, http.StatusRequestEntityTooLarge)
		}
		if files := waiting(t, s); len(files) > 0 {
			t.Errorf("what came of it was kept: %q", files)
		}
	})
	t.Run("many files", func(t *testing.T) {
		for range maxUploads + 3 {
			sendFile(t, address+"/data/import", "a.csv", "colour\nred\n")
		}
		if files := waiting(t, s); len(files) != maxUploads {
			t.Errorf("%d files wait, want %d", len(files), maxUploads)
		}
	})
}

// TestFilesThatWait holds the files that were sent to this user, to a token
// that nobody guesses, and to their time.
func TestFilesThatWait(t *testing.T) {
	s, address := serveSample(t)
	const finding = "tag,kind,found,urgency\nJ000001,plough strike,2026-01-02,soon\n"
	r, page := sendFile(t, address+"/data/import", "seen.csv", finding)
	if !strings.Contains(page, "Take it in") {
		t.Fatalf("nothing can be confirmed:\n%s", page)
	}
	token := filepath.Base(r.Request.URL.Path)
	if len(token) < 26 { // 130 bits in base 32
		t.Errorf("the token %s can be guessed", token)
	}
	for path, want := range map[string]fs.FileMode{s.uploads.dir: 0o700, filepath.Join(s.uploads.dir, token): 0o600} {
		info, err := os.Stat(path)
		if err != nil || info.Mode().Perm() != want {
			t.Errorf("%s: got %v (%v), want %v", path, info.Mode().Perm(), err, want)
		}
	}
	t.Run("nothing changed, then confirmed once", func(t *testing.T) {
		count := func() (n int) {
			if err := s.Store.Read().NewRaw("SELECT count(*) FROM findings WHERE found_on = '2026-01-02' AND created_by = 'Test Person'").Scan(t.Context(), &n); err != nil {
				t.Fatal(err)
			}
			return n
		}
		if n := count(); n != 0 {
			t.Errorf("looking at the file put %d findings on record", n)
		}
		for range 2 {
			postForm(t, address+"/data/import/"+token+"/take")
			if status, page, _ := getPage(t, address+"/data/import/"+token); status != http.StatusOK || !strings.Contains(page, "is taken in") {
				t.Errorf("got %d %s, want that it is taken in", status, page)
			}
			if n := count(); n != 1 {
				t.Errorf("got %d findings, want 1", n)
			}
		}
		if _, err := os.Stat(filepath.Join(s.uploads.dir, token)); err == nil {
			t.Error("the file is still there after it was taken in")
		}
	})
	t.Run("left", func(t *testing.T) {
		r, _ := sendFile(t, address+"/data/import", "seen.csv", strings.Replace(finding, "01-02", "01-03", 1))
		token := filepath.Base(r.Request.URL.Path)
		postForm(t, address+"/data/import/"+token+"/drop")
		if status, _, _ := get(t, address+"/data/import/"+token); status != http.StatusNotFound {
			t.Errorf("got %d, want not found", status)
		}
		if _, err := os.Stat(filepath.Join(s.uploads.dir, token)); err == nil {
			t.Error("the file is still there")
		}
	})
	dir := s.uploads.dir
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(dir); err == nil {
		t.Error("the folder is still there after the server closed")
	}
}

// TestFormulasAreText holds the files that people open in a spreadsheet to
// text (CWE-1236).
func TestFormulasAreText(t *testing.T) {
	s, address := serveSample(t)
	const formula = `=HYPERLINK("https://example.org";"x")`
	err := s.Store.Update(t.Context(), "test", func(ctx context.Context, tx *store.Tx) error {
		table, err := setting.FindTable(forecast.AllTables(), "consequences")
		if err == nil {
			_, err = table.SetRow(ctx, tx, []string{formula, "10", "ft", "", "@source", "no"})
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	_, _, text := get(t, address+"/data/tables/consequences/export/csv")
	if !strings.Contains(text, `'=HYPERLINK`) || !strings.Contains(text, "'@source") {
		t.Errorf("a formula is not guarded:\n%s", text)
	}
	_, h, book := get(t, address+"/data/tables/consequences/export/xlsx")
	if got := h.Get("Content-Disposition"); got != "attachment; filename=consequences.xlsx" {
		t.Errorf("got %q", got)
	}
	f, err := excelize.OpenReader(strings.NewReader(book))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows("consequences")
	if err != nil {
		t.Fatal(err)
	}
	last := fmt.Sprintf("A%d", len(rows))
	if got, _ := f.GetCellFormula("consequences", last); got != "" || rows[len(rows)-1][0] != formula {
		t.Errorf("got formula %q and text %q, want the text alone", got, rows[len(rows)-1][0])
	}
	r, _ := sendFile(t, address+"/data/import", "seen.csv", "tag,kind,found,urgency,notes\nJ000001,plough strike,never,soon,"+`"`+strings.ReplaceAll(formula, `"`, `""`)+`"`+"\n")
	_, _, left := get(t, r.Request.URL.String()+"/rejected")
	if !strings.Contains(left, `'=HYPERLINK`) {
		t.Errorf("a formula in the rows left out is not guarded:\n%s", left)
	}
}
