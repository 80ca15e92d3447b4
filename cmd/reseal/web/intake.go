package web

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path"
	"strconv"
	"strings"

	"reseal/condition/intake"
	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/setting"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// asked is what a person said of a file.
type asked struct {
	Kind  string // of intake.Kinds, or tablePrefix and the name of an agency's table
	Year  string
	State string
	Sheet string
	Odd   bool
}

// tablePrefix marks the kind of a file that holds an agency's table.
const tablePrefix = "table "

// intakeSeen is what a look at a file, or taking it in, came to.
type intakeSeen struct {
	Intake inventory.Intake
	Faults table.Faults
	Odd    int    // of the faults kept, those that can be accepted
	Stuck  bool   // nothing can be taken in before Faults, or what is Wrong, are mended
	Wrong  string // why the file cannot be read
	Hint   string
	Taken  bool // it is on record now
}

func (s *Server) intakeRoutes(mux *http.ServeMux) {
	mux.Handle("POST /data/import", s.upload(s.importFile))
	mux.Handle("GET /data/import/{token}", s.page(s.importPage))
	mux.Handle("POST /data/import/{token}", s.page(s.importAsk))
	mux.Handle("POST /data/import/{token}/take", s.page(s.importTake))
	mux.Handle("POST /data/import/{token}/drop", s.page(s.importDrop))
	mux.Handle("GET /data/import/{token}/rejected", s.page(s.importRejected))
	mux.Handle("GET /data/template/{kind}", s.page(s.template))
}

// importFile receives a file and looks at it, if it is known what it holds.
func (s *Server) importFile(w http.ResponseWriter, r *http.Request) error {
	u, values, err := s.receive(r)
	if err != nil {
		return err
	}
	u.ask = asked{Kind: values["kind"], Year: values["year"]}
	if u.ask.Kind == "" {
		if u.ask.Kind, err = u.recognise(); err != nil {
			s.uploads.drop(u.Token)
			return explained(u, err)
		}
	}
	if u.ask.Kind == "elements" && u.ask.Year == "" {
		if year := intake.YearIn(u.Name); year != 0 {
			u.ask.Year = strconv.Itoa(year)
		}
	}
	return s.look(w, r, u)
}

// explained says of a file that is no table what can be read.
func explained(u *upload, err error) error {
	if errors.Is(err, table.ErrFormat) || errors.Is(err, table.ErrEmpty) {
		return store.Hinted(err, "a file is National Bridge Inventory text, bridge element XML, or a table as CSV or XLSX")
	}
	return fmt.Errorf("%s: %w", u.Name, err)
}

func (u *upload) recognise() (string, error) {
	f, err := os.Open(u.path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	r, err := intake.Unpack(f)
	if err != nil {
		return "", err
	}
	return intake.Recognise(r, u.Name, u.ask.Sheet)
}

// complete reports whether all is known that a look needs.
func (a asked) complete() bool { return a.Kind != "" && (a.Kind != "elements" || a.Year != "") }

func (s *Server) importAsk(w http.ResponseWriter, r *http.Request) error {
	u, err := s.uploads.find(r.PathValue("token"))
	if err != nil {
		return err
	}
	u.mu.Lock()
	taken := u.seen != nil && u.seen.Taken
	if !taken && (u.job == nil || u.job.ended()) {
		u.ask = asked{
			Kind: r.PostFormValue("kind"), Year: strings.TrimSpace(r.PostFormValue("year")), State: strings.TrimSpace(r.PostFormValue("state")),
			Sheet: strings.TrimSpace(r.PostFormValue("sheet")), Odd: r.PostFormValue("odd") != "",
		}
	}
	u.mu.Unlock()
	if taken {
		http.Redirect(w, r, "/data/import/"+u.Token, http.StatusSeeOther)
		return nil
	}
	return s.look(w, r, u)
}

// look begins a dry run, and leads to what it finds.
func (s *Server) look(w http.ResponseWriter, r *http.Request, u *upload) error {
	return s.intake(w, r, u, "Looking at "+u.Name, s.Store.Try, true, false)
}

// importTake takes a file in that somebody has looked at.
func (s *Server) importTake(w http.ResponseWriter, r *http.Request) error {
	u, err := s.uploads.find(r.PathValue("token"))
	if err != nil {
		return err
	}
	u.mu.Lock()
	seen := u.seen
	u.mu.Unlock()
	if seen == nil || seen.Taken || seen.Stuck {
		http.Redirect(w, r, "/data/import/"+u.Token, http.StatusSeeOther)
		return nil
	}
	good := r.PostFormValue("rows") == "good"
	return s.intake(w, r, u, "Taking in "+u.Name, s.Store.Update, good, true)
}

type updater func(context.Context, string, func(context.Context, *store.Tx) error) error

// intake begins to take the file in by update, which may be a dry run: with
// good, its good rows only. Only one such job of a file goes on at a time.
func (s *Server) intake(w http.ResponseWriter, r *http.Request, u *upload, what string, update updater, good, forGood bool) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	page := "/data/import/" + u.Token
	if !u.ask.complete() {
		http.Redirect(w, r, page, http.StatusSeeOther)
		return nil
	}
	if u.job == nil || u.job.ended() {
		take, err := taker(u.ask.Kind)
		if err != nil {
			return err
		}
		ask, person := u.ask, s.person(r)
		u.job = s.begin(&job{What: what, Unit: "MB of the file", total: u.Size >> 20, next: page}, func(ctx context.Context, j *job) error {
			seen := s.run(ctx, u, ask, take, j, person, update, good)
			if ctx.Err() != nil {
				return ctx.Err()
			}
			seen.Taken = forGood && !seen.Stuck
			u.mu.Lock()
			defer u.mu.Unlock()
			u.seen = &seen
			if seen.Taken {
				os.Remove(u.path) // it is on record
			}
			return nil
		})
	}
	http.Redirect(w, r, "/data/jobs/"+u.job.ID, http.StatusSeeOther)
	return nil
}

// run takes the file in and puts what came of it into words.
func (s *Server) run(ctx context.Context, u *upload, ask asked, take takes, j *job, person string, update updater, good bool) (seen intakeSeen) {
	err := func() error {
		f, err := os.Open(u.path)
		if err != nil {
			return err
		}
		defer f.Close()
		in, err := intake.Unpack(&counted{f, j})
		if err != nil {
			return err
		}
		opt := intake.Options{IntakeOptions: inventory.IntakeOptions{
			Sheet: ask.Sheet, State: ask.State, AcceptOdd: ask.Odd, Today: s.today(),
		}}
		if ask.Year != "" {
			if opt.Year, err = strconv.Atoi(ask.Year); err != nil {
				return store.Invalid("give it with four digits, as 2024", "%q is not a year", ask.Year)
			}
		}
		if good {
			bad, err := os.OpenFile(u.badPath(), os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
			if err != nil {
				return err
			}
			defer bad.Close()
			opt.Bad = bad
		}
		return update(ctx, person, func(ctx context.Context, tx *store.Tx) (err error) {
			seen.Intake, err = take(ctx, tx, in, u.Name, opt)
			return err
		})
	}()
	seen.Faults, seen.Stuck = seen.Intake.Faults, err != nil
	var faults *table.Faults
	switch {
	case errors.As(err, &faults):
		seen.Faults = *faults
	case errors.Is(err, intake.ErrYear):
		seen.Wrong, seen.Hint = err.Error(), "say below in which year the file was submitted"
	case err != nil:
		seen.Wrong, seen.Hint = err.Error(), hint(err)
	}
	for _, f := range seen.Faults.Kept {
		if f.Odd {
			seen.Odd++
		}
	}
	return seen
}

// counted counts what a job has read of its file, in MB.
type counted struct {
	r io.Reader
	j *job
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.j.bytes += int64(n) // read by the job's goroutine alone
	c.j.count.Store(c.j.bytes >> 20)
	return n, err
}

type takes func(context.Context, *store.Tx, *bufio.Reader, string, intake.Options) (inventory.Intake, error)

// taker is the function that takes a kind of file in.
func taker(kind string) (takes, error) {
	name, ok := strings.CutPrefix(kind, tablePrefix)
	if !ok {
		k, err := intake.Find(kind)
		return k.Take, err
	}
	t, err := setting.FindTable(forecast.AllTables(), name)
	if err != nil {
		return nil, err
	}
	return func(ctx context.Context, tx *store.Tx, r *bufio.Reader, file string, opt intake.Options) (inventory.Intake, error) {
		in := inventory.Intake{File: file, What: "rows"}
		rows, err := table.NewReader(r, file, t.Columns, table.Options{Sheet: opt.Sheet})
		if err != nil {
			return in, err
		}
		defer rows.Close()
		in.Changed, err = t.Import(ctx, tx, rows)
		in.Notices = rows.Notices()
		return in, err
	}, nil
}

// importView is what the page of a file shows.
type importView struct {
	*upload
	Ask     asked
	Seen    *intakeSeen
	Kinds   []intake.Kind
	Kind    string // in words
	Table   string // the agency's table that it holds
	OddKind bool   // entries of the kind can be odd
	Book    bool   // a workbook, which has sheets
	Good    int    // rows that would go on record or be brought up to date
	Steps   []fillStep
}

func (s *Server) importPage(w http.ResponseWriter, r *http.Request) error {
	u, err := s.uploads.find(r.PathValue("token"))
	if err != nil {
		return err
	}
	u.mu.Lock()
	job, ask, seen := u.job, u.ask, u.seen
	u.mu.Unlock()
	if job != nil && !job.ended() {
		http.Redirect(w, r, "/data/jobs/"+job.ID, http.StatusSeeOther)
		return nil
	}
	v := importView{upload: u, Ask: ask, Seen: seen, Kinds: intake.Kinds(), Book: strings.EqualFold(path.Ext(u.Name), ".xlsx")}
	if name, ok := strings.CutPrefix(ask.Kind, tablePrefix); ok {
		v.Table, v.Kind = name, "the table "+words(name)
	} else if k, err := intake.Find(ask.Kind); err == nil {
		v.Kind, v.OddKind = k.Holds, k.Odd
	}
	if seen != nil {
		v.Good = seen.Intake.Added + seen.Intake.Changed
	}
	title := "What is in " + u.Name
	if seen != nil && seen.Taken {
		title = u.Name + " is taken in"
		if v.Steps, err = s.steps(r.Context()); err != nil {
			return err
		}
	}
	status := http.StatusOK
	if seen != nil && seen.Wrong != "" {
		status = http.StatusUnprocessableEntity
	}
	return s.render(w, r, status, "import.html", Page{Title: title, Nav: "Data", Style: []string{"data.css"}, Body: v})
}

func (s *Server) importDrop(w http.ResponseWriter, r *http.Request) error {
	s.uploads.drop(r.PathValue("token"))
	http.Redirect(w, r, "/data", http.StatusSeeOther)
	return nil
}

// importRejected offers the rows that were left out, each with its reason.
func (s *Server) importRejected(w http.ResponseWriter, r *http.Request) error {
	u, err := s.uploads.find(r.PathValue("token"))
	if err != nil {
		return err
	}
	f, err := os.Open(u.badPath())
	if err != nil {
		return store.NotFound("go back to the file", "no rows of %s were left out", u.Name)
	}
	defer f.Close()
	attach(w, "text/csv; charset=utf-8", strings.TrimSuffix(u.Name, path.Ext(u.Name))+"-left-out.csv")
	_, err = io.Copy(w, f)
	return err
}

// template offers the empty table of a kind.
func (s *Server) template(w http.ResponseWriter, r *http.Request) error {
	name, form, _ := strings.Cut(r.PathValue("kind"), ".")
	k, err := intake.Find(name)
	if err != nil {
		return err
	}
	if k.Sheet == nil || (form != "csv" && form != "xlsx" && form != "") {
		return store.NotFound("see the templates on the page Data", "there is no template %s", r.PathValue("kind"))
	}
	if form == "" {
		return s.render(w, r, http.StatusOK, "template.html", Page{
			Title: "A table of " + k.Name, Nav: "Data", Style: []string{"data.css"},
			Body: map[string]any{"Kind": k, "Columns": k.Sheet().Columns},
		})
	}
	return s.tableFile(w, form, k.Name, k.Sheet().Columns, func(*table.Writer) error { return nil })
}
