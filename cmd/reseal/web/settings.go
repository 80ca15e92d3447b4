package web

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"unicode"

	"reseal/forecast"
	"reseal/inventory/setting"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

func (s *Server) settingsRoutes(mux *http.ServeMux) {
	mux.Handle("GET /data/settings", s.page(s.settings))
	mux.Handle("GET /data/settings/{name}", s.page(s.setting))
	mux.Handle("POST /data/settings/{name}", s.page(s.setSetting))
	mux.Handle("GET /data/tables/{name}", s.page(s.agencyTable))
	mux.Handle("GET /data/tables/{name}/row", s.page(s.tableRow))
	mux.Handle("POST /data/tables/{name}/row", s.page(s.setTableRow))
	mux.Handle("POST /data/tables/{name}/import", s.upload(s.tableImport))
	mux.Handle("GET /data/tables/{name}/export/{form}", s.page(s.tableExport))
}

// settingView is a setting as a page shows it.
type settingView struct {
	setting.Definition
	Now      string
	Was      string        // the default
	Changed  *store.Event  // the last change; nil: none
	History  []store.Event // of one setting
	Wrong    string
	Invented bool // the value is an illustrative starting value
}

// Range is what the setting may be.
func (v settingView) Range() string { return exact(v.Min) + " to " + exact(v.Max) }

// exact writes all digits of a number.
func exact(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// settingViews are all settings with their last change.
func (s *Server) settingViews(r *http.Request) ([]settingView, error) {
	db := s.Store.Read()
	all := forecast.AllSettings()
	if err := setting.Load(r.Context(), db, all); err != nil {
		return nil, err
	}
	events, err := store.TableHistory(r.Context(), db, "settings", "key")
	if err != nil {
		return nil, err
	}
	views := make([]settingView, len(all))
	for i, d := range all {
		v := settingView{Definition: d, Now: exact(*d.Value), Was: exact(d.Default), Invented: d.Illustrative && *d.Value == d.Default}
		for j := range events {
			if events[j].Row == d.Name {
				v.History = append(v.History, events[j])
			}
		}
		if len(v.History) > 0 {
			v.Changed = &v.History[0]
		}
		views[i] = v
	}
	return views, nil
}

func (s *Server) settings(w http.ResponseWriter, r *http.Request) error {
	views, err := s.settingViews(r)
	if err != nil {
		return err
	}
	return s.render(w, r, http.StatusOK, "settings.html", Page{
		Title: "Settings and tables", Nav: "Data", Style: []string{"data.css"},
		Body: map[string]any{"Settings": views, "Tables": forecast.AllTables()},
	})
}

func (s *Server) setting(w http.ResponseWriter, r *http.Request) error {
	return s.settingForm(w, r, http.StatusOK, nil)
}

// settingForm shows one setting, after a refusal with what was typed.
func (s *Server) settingForm(w http.ResponseWriter, r *http.Request, status int, refused error) error {
	views, err := s.settingViews(r)
	if err != nil {
		return err
	}
	for _, v := range views {
		if v.Name != r.PathValue("name") {
			continue
		}
		typed := v.Now
		if refused != nil {
			v.Wrong = strings.TrimSuffix(refused.Error()+": "+hint(refused), ": ")
			typed = r.PostFormValue("value")
		}
		return s.render(w, r, status, "setting.html", Page{
			Title: sentence(words(v.Name)), Nav: "Data", Style: []string{"data.css"},
			Body: map[string]any{"Setting": v, "Typed": typed},
		})
	}
	_, err = setting.Find(nil, r.PathValue("name"))
	return err
}

func (s *Server) setSetting(w http.ResponseWriter, r *http.Request) error {
	name, value := r.PathValue("name"), strings.TrimSpace(r.PostFormValue("value"))
	err := s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) error {
		return setting.Set(ctx, tx, forecast.AllSettings(), name, value)
	})
	if errors.Is(err, store.ErrInvalid) {
		return s.settingForm(w, r, http.StatusUnprocessableEntity, err)
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/data/settings#"+name, http.StatusSeeOther)
	return nil
}

// tableView is an agency's table as a page shows it.
type tableView struct {
	setting.Table
	Rows     []tableRowView
	Invented int // rows that are marked as illustrative
	History  []store.Event
}

type tableRowView struct {
	Key      string
	Cells    []string
	Invented bool
}

func (s *Server) table(r *http.Request) (v tableView, err error) {
	if v.Table, err = setting.FindTable(forecast.AllTables(), r.PathValue("name")); err != nil {
		return v, err
	}
	rows, err := v.Texts(r.Context(), s.Store.Read())
	if err != nil {
		return v, err
	}
	mark := v.column(setting.Illustrative.Name)
	for _, cells := range rows {
		row := tableRowView{Key: cells[0], Cells: cells, Invented: mark >= 0 && cells[mark] == "yes"}
		if row.Invented {
			v.Invented++
		}
		v.Rows = append(v.Rows, row)
	}
	return v, nil
}

func (v tableView) column(name string) int {
	for i, c := range v.Columns {
		if c.Name == name {
			return i
		}
	}
	return -1
}

func (s *Server) agencyTable(w http.ResponseWriter, r *http.Request) error {
	v, err := s.table(r)
	if err != nil {
		return err
	}
	if v.History, err = store.TableHistory(r.Context(), s.Store.Read(), v.Name, v.Columns[0].Name); err != nil {
		return err
	}
	return s.render(w, r, http.StatusOK, "table.html", Page{
		Title: sentence(words(v.Name)), Nav: "Data", Wide: true, Style: []string{"data.css"},
		Body: v,
	})
}

// cellView is a cell of the row that is edited.
type cellView struct {
	table.Column
	Value string
	Wrong string
}

// Number reports a cell that takes digits.
func (c cellView) Number() bool { return c.Kind != table.Text && c.Kind != table.Bool }

func (s *Server) tableRow(w http.ResponseWriter, r *http.Request) error {
	v, err := s.table(r)
	if err != nil {
		return err
	}
	key := r.FormValue("key")
	cells := make([]string, len(v.Columns))
	if key != "" {
		cells = nil
		for _, row := range v.Rows {
			if row.Key == key {
				cells = row.Cells
			}
		}
		if cells == nil {
			return store.NotFound("see the table", "%s has no row %q", words(v.Name), key)
		}
	}
	return s.rowForm(w, r, http.StatusOK, v, key, cells, nil)
}

// rowForm shows one row, after a refusal with the faults of its cells.
func (s *Server) rowForm(w http.ResponseWriter, r *http.Request, status int, v tableView, key string, values []string, faults *table.Faults) error {
	cells := make([]cellView, len(values))
	for i, c := range v.Columns {
		cells[i] = cellView{Column: c, Value: values[i]}
	}
	var other []string // faults of no cell
	if faults != nil {
	each:
		for _, f := range faults.Kept {
			text := f.Problem
			if f.Remedy != "" {
				text += ": " + f.Remedy
			}
			for i := range cells {
				if cells[i].Name == f.Column {
					cells[i].Wrong = text
					continue each
				}
			}
			other = append(other, text)
		}
	}
	title := "A new row of " + words(v.Name)
	if key != "" {
		title = sentence(words(v.Name)) + ": " + key
	}
	return s.render(w, r, status, "table-row.html", Page{
		Title: title, Nav: "Data", Style: []string{"data.css"},
		Body: map[string]any{"Table": v, "Key": key, "Cells": cells, "Wrong": other},
	})
}

func (s *Server) setTableRow(w http.ResponseWriter, r *http.Request) error {
	v, err := s.table(r)
	if err != nil {
		return err
	}
	key := r.PostFormValue("key") // of the row that is edited; empty: a new one
	cells := make([]string, len(v.Columns))
	for i, c := range v.Columns {
		cells[i] = strings.TrimSpace(r.PostFormValue(c.Name))
	}
	if key != "" {
		cells[0] = key // the key stays
	}
	err = s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) error {
		if key == "" {
			for _, row := range v.Rows {
				if row.Key == cells[0] {
					return store.Invalid("edit that row", "there is a row %q already", row.Key)
				}
			}
		}
		_, err := v.SetRow(ctx, tx, cells)
		return err
	})
	var faults *table.Faults
	switch {
	case errors.As(err, &faults):
	case errors.Is(err, store.ErrInvalid):
		faults = &table.Faults{Kept: []table.Fault{{Problem: err.Error(), Remedy: hint(err)}}}
	case err != nil:
		return err
	default:
		http.Redirect(w, r, "/data/tables/"+v.Name, http.StatusSeeOther)
		return nil
	}
	return s.rowForm(w, r, http.StatusUnprocessableEntity, v, key, cells, faults)
}

// tableImport receives a file of an agency's table; it is looked at first, as
// every other file.
func (s *Server) tableImport(w http.ResponseWriter, r *http.Request) error {
	t, err := setting.FindTable(forecast.AllTables(), r.PathValue("name"))
	if err != nil {
		return err
	}
	u, _, err := s.receive(r)
	if err != nil {
		return err
	}
	u.ask = asked{Kind: tablePrefix + t.Name}
	return s.look(w, r, u)
}

func (s *Server) tableExport(w http.ResponseWriter, r *http.Request) error {
	t, err := setting.FindTable(forecast.AllTables(), r.PathValue("name"))
	if err != nil {
		return err
	}
	form := r.PathValue("form")
	if form != "csv" && form != "xlsx" {
		return store.NotFound("it is csv or xlsx", "a table does not come as %q", form)
	}
	return s.tableFile(w, form, t.Name, t.Columns, func(out *table.Writer) error {
		return t.Export(r.Context(), s.Store.Read(), out)
	})
}

// sentence begins words with a capital.
func sentence(words string) string {
	r := []rune(words)
	if len(r) > 0 {
		r[0] = unicode.ToUpper(r[0])
	}
	return string(r)
}
