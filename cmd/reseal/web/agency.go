package web

import (
	"context"
	"time"

	"reseal/forecast"
	"reseal/inventory"
)

// agency is what forecasts are made by: the agency's tables and settings, and
// the model of them.
type agency struct {
	tables *forecast.Tables
	model  *forecast.Model
}

func (s *Server) makeAgency(ctx context.Context) (a agency, err error) {
	if a.tables, err = forecast.LoadTables(ctx, s.Store.Read()); err != nil {
		return a, err
	}
	a.model, err = forecast.NewModel(a.tables)
	return a, err
}

// theAgency is the agency as it is now.
func (s *Server) theAgency(ctx context.Context) (agency, error) {
	a, _, err := s.agency.get(ctx, s)
	return a, err
}

// asOfToday projects from today on.
func (s *Server) asOfToday() forecast.Options { return forecast.Options{AsOf: s.today()} }

func (s *Server) makeChoices(ctx context.Context) (inventory.Choices, error) {
	return inventory.ReadChoices(ctx, s.Store.Read())
}

// theChoices are the values that the filters of lists offer.
func (s *Server) theChoices(ctx context.Context) (inventory.Choices, error) {
	c, _, err := s.choices.get(ctx, s)
	return c, err
}

// asOfClock is the time of a value that is being made anew; empty: it is of now.
func asOfClock(at time.Time) string {
	if at.IsZero() {
		return ""
	}
	return at.Local().Format("15:04")
}
