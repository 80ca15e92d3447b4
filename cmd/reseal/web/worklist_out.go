package web

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"io"
	"net/http"

	"reseal/cmd/reseal/layer"
	"reseal/condition"
	"reseal/condition/sheet"
	"reseal/forecast"
	"reseal/geo/geojson"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// exportWorkList writes the list as the command export does: csv, xlsx, json
// or geojson.
func (s *Server) exportWorkList(w http.ResponseWriter, r *http.Request) error {
	q, err := s.workListAsked(r.Context(), r.URL.Query())
	if err != nil {
		return err
	}
	l := layer.Named("worklist")
	columns, err := l.Columns(nil)
	if err != nil {
		return err
	}
	format := cmp.Or(r.PathValue("format"), "json")
	var out bytes.Buffer
	to, kind, err := sinkOf(format, &out, l.Name(), columns)
	if err != nil {
		return err
	}
	list, err := s.workListNow(r.Context(), q)
	if err != nil {
		return err
	}
	err = l.Write(r.Context(), s.Store, layer.Query{Today: s.today(), WorkList: func(context.Context) (*forecast.WorkList, error) { return list, nil }}, to)
	if err == nil {
		err = to.Close()
	}
	if err != nil {
		return err
	}
	return download(w, &out, kind, fmt.Sprintf("worklist-%d.%s", q.Year, format))
}

// sinkOf begins a file of a format.
func sinkOf(format string, out io.Writer, name string, columns []table.Column) (to layer.Sink, kind string, err error) {
	switch format {
	case "geojson":
		return layer.NewGeoJSON(out, columns, geojson.Options{}), "application/geo+json", nil
	case "csv":
		to, err = layer.NewTable(columns, false, func(all []table.Column) (*table.Writer, error) { return table.NewCSV(out, all) })
		return to, "text/csv; charset=utf-8", err
	case "json":
		to, err = layer.NewTable(columns, false, func(all []table.Column) (*table.Writer, error) { return table.NewJSON(out, all), nil })
		return to, jsonType, err
	case "xlsx":
		to, err = layer.NewTable(columns, false, func(all []table.Column) (*table.Writer, error) { return table.NewXLSX(out, name, all) })
		return to, xlsxType, err
	}
	return nil, "", store.NotFound("it is csv, xlsx, json or geojson", "there is no format %q", format)
}

// jsonType is of what a program reads at once, which is not to be kept.
const jsonType = "application/json"

// download sends a file to be kept under a name.
func download(w http.ResponseWriter, body *bytes.Buffer, kind, name string) error {
	h := w.Header()
	h.Set("Content-Type", kind)
	if kind != jsonType {
		h.Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name))
	}
	h.Set("Cache-Control", "no-store")
	_, err := body.WriteTo(w)
	return err
}

// sheetsPage tells of which joints there are crew sheets.
type sheetsPage struct {
	From, Back string // the page that they were asked for on, and its address
	Of         string // which joints
	Print      string // address of the sheets themselves
	Sheets     int
	Refused    []condition.NoSheet
}

// makeSheets makes the sheets of the joints above the line.
func (s *Server) makeSheets(r *http.Request) (q workListQuery, sheets []sheet.Sheet, refused []condition.NoSheet, err error) {
	if q, err = s.workListAsked(r.Context(), r.URL.Query()); err != nil {
		return q, nil, nil, err
	}
	list, err := s.workListNow(r.Context(), q)
	if err != nil {
		return q, nil, nil, err
	}
	if list.Line == 0 {
		return q, nil, nil, store.NotFound("go back and give money for one joint at least", "the work list has no joint above its line")
	}
	a, err := s.theAgency(r.Context())
	if err != nil {
		return q, nil, nil, err
	}
	work, err := list.CrewWork(a.tables)
	if err != nil {
		return q, nil, nil, err
	}
	sheets, refused, err = condition.CrewSheets(r.Context(), s.Store.Read(), list.Tags(), condition.CrewOptions{
		AsOf: s.today(), Year: inventory.Date{Year: q.Year, Month: 7, Day: 1}.DecimalYear(), Work: work,
	})
	return q, sheets, refused, err
}

func (s *Server) crewSheets(w http.ResponseWriter, r *http.Request) error {
	q, sheets, refused, err := s.makeSheets(r)
	if err != nil {
		return err
	}
	b := sheetsPage{
		From: fmt.Sprintf("Work list %d", q.Year), Back: "/worklist?" + string(q.address()), Of: "stands above the line",
		Print: "/worklist/sheets/print?" + string(q.address()), Sheets: len(sheets), Refused: refused,
	}
	return s.render(w, r, http.StatusOK, "sheets.html", Page{Title: "Crew sheets", Nav: "Work list", Body: b})
}

// printSheets writes the sheets as one document for the browser's print. It
// carries its own style, and nothing else may run in it.
func (s *Server) printSheets(w http.ResponseWriter, r *http.Request) error {
	_, sheets, _, err := s.makeSheets(r)
	if err != nil {
		return err
	}
	return writeSheets(w, sheets)
}

func writeSheets(w http.ResponseWriter, sheets []sheet.Sheet) error {
	var out bytes.Buffer
	if err := sheet.WriteHTML(&out, sheets); err != nil {
		return err
	}
	w.Header().Set("Content-Security-Policy", sheetPolicy)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	_, err := out.WriteTo(w)
	return err
}
