package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/uptrace/bun"

	"reseal/condition"
	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

// editForm is a form to change a row in place.
type editForm struct {
	ID     string // of the form in its page
	Title  string
	Action string
	Seen   store.Instant // when the row was last changed as shown
	Fields []editField
	Wrong  string // why it was not saved
	Hint   string
	Open   bool
	New    bool   // nothing of it is on record yet
	Save   string // words on its button; empty: Save
}

// editField is a column of the row.
type editField struct {
	Name, Label string
	Was         string   // on record
	Value       string   // shown: what was typed, after a refusal
	Of          []string // the values that it may take; nil: any
	Kind        string   // text, number, date or long
}

func jointForm(j *inventory.Joint) editForm {
	return newForm("joint", "Change the joint", "/joints/"+url.PathEscape(j.Tag), j, j.Stamp, inventory.JointColumns(),
		map[string][]string{"place": inventory.Places, "movement": inventory.Movements, "expansion_assumed": {"yes", "no"}})
}

func sealForm(tag string, s *inventory.Seal, kinds []string) editForm {
	return newForm(fmt.Sprintf("seal-%d", s.ID), "Correct the "+s.Kind, fmt.Sprintf("/joints/%s/seals/%d", url.PathEscape(tag), s.ID), s, s.Stamp, inventory.SealColumns(),
		map[string][]string{"kind": kinds})
}

func bridgeForm(b *inventory.Bridge) editForm {
	yesNo := []string{"yes", "no"}
	f := newForm("bridge", "Change the bridge", bridgePath(b.State, b.StructureNumber), b, b.Stamp, inventory.BridgeColumns(),
		map[string][]string{"skew_varies": yesNo, "continuous": yesNo, "nhs": yesNo, "climate": {"moderate", "cold"}, "deicing": {"none", "light", "moderate", "heavy"}})
	lat, lon := b.PlaceText()
	var place []editField
	for i, v := range []string{lat, lon} {
		name := inventory.BridgePlace[i]
		place = append(place, editField{Name: name, Label: name + " (°, WGS 84)", Was: v, Value: v, Kind: "text"})
	}
	if lat == "" { // what is missing comes first
		f.Fields = append(place, f.Fields...)
	} else {
		f.Fields = append(f.Fields, place...)
	}
	return f
}

// projectForm changes a project of a bridge; with no ID it puts one on record.
func projectForm(b *inventory.Bridge, p inventory.Project) editForm {
	path := bridgePath(b.State, b.StructureNumber) + "/projects"
	id, title := "project", "Add a project"
	if p.ID != 0 {
		id, path = fmt.Sprintf("project-%d", p.ID), fmt.Sprintf("%s/%d", path, p.ID)
		title = fmt.Sprintf("Change the %s of %d", p.Kind, p.Year)
	}
	f := newForm(id, title, path, &p, p.Stamp, inventory.ProjectColumns(), map[string][]string{"kind": inventory.ProjectKinds, "certainty": inventory.Certainties})
	if f.New = p.ID == 0; f.New {
		for i := range f.Fields {
			f.Fields[i].Was = ""
		}
	}
	return f
}

// withdrawnWhy is the field of the reason.
const withdrawnWhy = "withdrawn_why"

// withdrawForm keeps on record that a project will not come.
func withdrawForm(b *inventory.Bridge, p *inventory.Project) editForm {
	return editForm{
		ID: fmt.Sprintf("withdraw-%d", p.ID), Title: fmt.Sprintf("Withdraw the %s of %d", p.Kind, p.Year), Seen: p.ChangedAt, New: true, Save: "Withdraw it",
		Action: fmt.Sprintf("%s/projects/%d/withdraw", bridgePath(b.State, b.StructureNumber), p.ID),
		Fields: []editField{{Name: withdrawnWhy, Label: "Why it will not come; stays on record with your name", Kind: "long"}},
	}
}

func newForm(id, title, action string, row any, stamp store.Stamp, columns []string, of map[string][]string) editForm {
	f := editForm{ID: id, Title: title, Action: action, Seen: stamp.ChangedAt}
	for _, c := range columns {
		value := inventory.ColumnText(row, c)
		field := editField{Name: c, Label: columnWords(c), Was: value, Value: value, Of: of[c], Kind: "text"}
		switch {
		case c == "notes":
			field.Kind = "long"
		case c == "installed_on" || c == "warranty_until":
			field.Kind = "date"
		}
		if field.Of != nil && field.Value != "" && !slices.Contains(field.Of, field.Value) {
			field.Of = append(slices.Clone(field.Of), field.Value)
		}
		f.Fields = append(f.Fields, field)
	}
	return f
}

// given are the values of a form that differ from what was shown: what another
// person changed elsewhere in the row stays.
func given(r *http.Request, columns []string) inventory.Edit {
	e := inventory.Edit{Values: map[string]string{}, Seen: store.Instant(r.PostFormValue("seen"))}
	for _, c := range columns {
		if r.PostForm.Has(c) && r.PostFormValue(c) != r.PostFormValue("was-"+c) {
			e.Values[c] = r.PostFormValue(c)
		}
	}
	return e
}

// refuse puts what was typed back into the form, with why it was not saved.
func (f *editForm) refuse(e inventory.Edit, err error) {
	f.Wrong, f.Hint, f.Open = err.Error(), hint(err), true
	for i := range f.Fields {
		if typed, ok := e.Values[f.Fields[i].Name]; ok {
			f.Fields[i].Value = typed
		}
	}
}

func (s *Server) editJoint(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	tag, e := r.PathValue("tag"), given(r, inventory.JointColumns())
	err := s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) error {
		return inventory.EditJoint(ctx, tx, tag, e)
	})
	return s.editedJoint(w, r, err, func(b *jointPage) { b.Edit.refuse(e, err) })
}

func (s *Server) editSeal(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	id, err := strconv.ParseInt(r.PathValue("seal"), 10, 64)
	if err != nil {
		return store.NotFound("", "there is no seal %q", r.PathValue("seal"))
	}
	e := given(r, inventory.SealColumns())
	err = s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) error {
		j, err := inventory.FindJoint(ctx, tx, r.PathValue("tag"))
		if err != nil {
			return err
		}
		return inventory.EditSeal(ctx, tx, j.ID, id, e)
	})
	return s.editedJoint(w, r, err, func(b *jointPage) {
		for i := range b.Seals {
			if b.Seals[i].ID == fmt.Sprintf("seal-%d", id) {
				b.Seals[i].refuse(e, err)
			}
		}
	})
}

// editedJoint leads back to the joint, or shows it with the form that was refused.
func (s *Server) editedJoint(w http.ResponseWriter, r *http.Request, err error, refuse func(*jointPage)) error {
	return edited(w, r, err, "/joints/"+url.PathEscape(r.PathValue("tag")), func() error {
		b, failed := s.jointBody(r.Context(), r.PathValue("tag"))
		if failed != nil {
			return failed
		}
		refuse(b)
		return s.showJoint(w, r, statusOf(err), b)
	})
}

// edited leads on to a page after a change, or shows again what a person can
// mend.
func edited(w http.ResponseWriter, r *http.Request, err error, to string, again func() error) error {
	switch {
	case err == nil:
		http.Redirect(w, r, to, http.StatusSeeOther)
		return nil
	case errors.Is(err, store.ErrConflict), errors.Is(err, store.ErrInvalid):
		return again()
	}
	return err
}

// decide puts a decision on record, or ends those of a kind.
func (s *Server) decide(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	d := decision{What: r.PostFormValue("what"), Value: r.PostFormValue("year"), Reason: r.PostFormValue("reason"), Undo: r.PostFormValue("undo")}
	switch d.What {
	case forecast.FixTreatment:
		d.Value = r.PostFormValue("treatment")
	case forecast.FixCost:
		d.Value = r.PostFormValue("cost")
	case forecast.Pin:
		d.Treatment = r.PostFormValue("treatment")
	}
	if err := s.decideOn(r, d); err != nil {
		return err
	}
	http.Redirect(w, r, back(r), http.StatusSeeOther)
	return nil
}

// apiDecide decides as the form does.
func (s *Server) apiDecide(w http.ResponseWriter, r *http.Request) error {
	var d decision
	if err := readJSON(r, &d); err != nil {
		return err
	}
	if err := s.decideOn(r, d); err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]any{"joint": r.PathValue("tag"), "decided": d})
}

// decision is what a person decides about a joint, as NewDecision takes it; or
// what kind of decision is undone.
type decision struct {
	What      string `json:"what,omitempty"`
	Value     string `json:"value,omitempty"`
	Treatment string `json:"treatment,omitempty"`
	Reason    string `json:"reason,omitempty"`
	Undo      string `json:"undo,omitempty"`
}

func (s *Server) decideOn(r *http.Request, d decision) error {
	a, err := s.theAgency(r.Context())
	if err != nil {
		return err
	}
	return s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) error {
		j, err := inventory.FindJoint(ctx, tx, r.PathValue("tag"))
		if err != nil {
			return err
		}
		if d.Undo != "" {
			_, err := forecast.Undecide(ctx, tx, j.ID, d.Undo, s.today())
			return err
		}
		made, err := a.tables.NewDecision(j.ID, d.What, d.Value, d.Treatment, d.Reason, s.today())
		if err != nil {
			return err
		}
		return forecast.Decide(ctx, tx, made, s.today())
	})
}

// changeWords is a change of a row of those that a page shows, for people.
type changeWords struct {
	At, By, What, Before, After string
}

// historyOf names a row whose changes a page tells, and what stands before them.
type historyOf struct {
	table string
	id    int64
	what  string
}

// jointChanges are the changes of the joint and its seals, the latest first.
func jointChanges(ctx context.Context, db bun.IDB, r *condition.JointRecord) ([]changeWords, error) {
	rows := []historyOf{{"joints", r.Joint.ID, ""}}
	for i := range r.Stretches {
		for k := range r.Stretches[i].Seals {
			seal := &r.Stretches[i].Seals[k]
			rows = append(rows, historyOf{"seals", seal.ID, seal.Kind + ": "})
		}
	}
	return changesOf(ctx, db, rows...)
}

// changesOf are the changes of rows, the latest first.
func changesOf(ctx context.Context, db bun.IDB, rows ...historyOf) (out []changeWords, err error) {
	for _, row := range rows {
		changes, err := store.History(ctx, db, row.table, row.id)
		if err != nil {
			return nil, err
		}
		for _, c := range changes {
			for _, f := range c.Fields {
				words := changeWords{At: c.At, By: c.By, What: row.what + columnWords(f.Column), Before: valueWords(f.Before), After: valueWords(f.After)}
				if f.Column == "geom" {
					words.What, words.Before, words.After = row.what+"place on the map", "", "drawn anew"
					if row.table == "bridges" {
						words.After = "moved"
					}
				}
				out = append(out, words)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b changeWords) int { return strings.Compare(b.At, a.At) })
	return out, nil
}

// valueWords is a value of history; nil is nothing.
func valueWords(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case float64:
		return strconv.FormatFloat(v, 'g', 10, 64)
	}
	return fmt.Sprint(v)
}

// decideForm is the form that overrules the ranking for one joint.
type decideForm struct {
	Tag        string
	Year       int
	Treatments []string
	Whats      []sortWords
}

func newDecideForm(tag string, year int, treatments []string) decideForm {
	return decideForm{tag, year, treatments, []sortWords{
		{forecast.Pin, "pin to the year"},
		{forecast.Hold, "hold until the year"},
		{forecast.Exclude, "leave out"},
		{forecast.FixTreatment, "fix the treatment"},
		{forecast.FixCost, "fix the cost"},
	}}
}
