package intake

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

// Kind is one kind of file that can be taken in.
type Kind struct {
	Name  string // as in: reseal import joints
	Holds string // what is in such a file
	Help  string // how its rows are understood
	Sheet func() *inventory.Sheet
	// Odd says that entries can be odd without being wrong.
	Odd  bool
	take func(ctx context.Context, tx *store.Tx, r *bufio.Reader, name string, opt Options) (inventory.Intake, error)
}

// Options say how a file is taken in.
type Options struct {
	inventory.IntakeOptions
	Year int // of the submission of element data; 0: the one that the file's name has
}

// Kinds are all kinds, in the order in which a new inventory is filled.
func Kinds() []Kind {
	return []Kind{
		{
			Name: "bridges", Holds: "bridges, from National Bridge Inventory text or a spreadsheet", Sheet: inventory.BridgeSheet, take: bridges,
			Help: "Bridges on record are brought up to date where the file says something. Which of\nthe two a file is shows in its header.",
		},
		{
			Name: "elements", Holds: "joints and their condition, from FHWA bridge element XML", take: elements,
			Help: "Elements 300 to 306 become joints, each known as a quantity of its bridge; joint\nsplit and joint propose make real ones of them. Import the years in order, and\neach year after that year's bridges, which date the inspections.",
		},
		{
			Name: "joints", Holds: "joints with their present seals", Sheet: inventory.JointSheet, take: sheet(inventory.ImportJoints), Odd: true,
			Help: "A row is about the joint with its tag, or else the joint of its bridge with its\nlabel, or else with its place and sequence; one that is not on record is added.\nA blank cell leaves what is on record.",
		},
		{
			Name: "seals", Holds: "the history of seals", Sheet: inventory.SealSheet, take: sheet(inventory.ImportSeals),
			Help: "A row for each seal that a joint, or a stretch of it, has had. Seals of a stretch\ncannot overlap in time.",
		},
		{
			Name: "inspections", Holds: "inspections with their feet by state, defects and gaps", Sheet: condition.InspectionSheet, take: sheet(condition.ImportInspections), Odd: true,
			Help: "Rows of one joint, day and inspector that stand one below the other are one\ninspection. Nothing on record is overwritten: a correction names the day that it\nreplaces.",
		},
		{
			Name: "readings", Holds: "gap readings taken apart from inspections", Sheet: condition.ReadingSheet, take: sheet(condition.ImportReadings), Odd: true,
			Help: "Several readings of one day and position are several readings, as the deck warms.",
		},
		{
			Name: "findings", Holds: "what was seen between inspections", Sheet: inventory.FindingSheet, take: sheet(inventory.ImportFindings),
			Help: "A row brings up to date the finding of its joint, kind, day and start, or adds it.",
		},
		{
			Name: "work", Holds: "work done at joints", Sheet: inventory.WorkSheet, take: sheet(inventory.ImportWork),
			Help: "Work with a new seal ends the seal in place and begins the row's. Nothing on\nrecord is overwritten: a correction names the day that it replaces.",
		},
		{
			Name: "projects", Holds: "bridge projects to come", Sheet: inventory.ProjectSheet, take: sheet(inventory.ImportProjects), Odd: true,
			Help: "A row brings up to date the project of its bridge, kind and year, or adds it.",
		},
	}
}

// Find returns the kind of a name.
func Find(name string) (Kind, error) {
	var names []string
	for _, k := range Kinds() {
		if k.Name == name {
			return k, nil
		}
		names = append(names, k.Name)
	}
	return Kind{}, store.NotFound("it is one of "+strings.Join(names, ", "), "there is no kind of file %q", name)
}

// Take takes a file in, all of it or, with opt.Bad, its good rows. name stands
// for the file in messages.
func (k Kind) Take(ctx context.Context, tx *store.Tx, r *bufio.Reader, name string, opt Options) (inventory.Intake, error) {
	return k.take(ctx, tx, r, name, opt)
}

func bridges(ctx context.Context, tx *store.Tx, r *bufio.Reader, name string, opt Options) (inventory.Intake, error) {
	if inventory.IsNBI(r) {
		return inventory.ImportNBI(ctx, tx, r, name, opt.IntakeOptions)
	}
	return inventory.ImportBridges(ctx, tx, r, name, opt.IntakeOptions)
}

func elements(ctx context.Context, tx *store.Tx, r *bufio.Reader, name string, opt Options) (inventory.Intake, error) {
	year, err := opt.year(name)
	if err != nil {
		return inventory.Intake{File: name}, err
	}
	return condition.ImportElements(ctx, tx, r, name, year, opt.IntakeOptions)
}

// year is that of the submission.
func (o Options) year(name string) (int, error) {
	year := o.Year
	if year == 0 {
		year = YearIn(name)
	}
	switch {
	case year == 0:
		return 0, fmt.Errorf("%s: %w", name, ErrYear)
	case year < 1990 || !o.Today.IsZero() && year > o.Today.Year+1:
		return 0, fmt.Errorf("%w: %d cannot be", ErrYear, year)
	}
	return year, nil
}

// ErrYear is wrapped by the error for element data of which nobody said, or
// said rightly, when they were submitted.
var ErrYear = &store.Error{
	Kind: store.ErrInvalid, Text: "the year of submission is not known",
	Hint: "say it with --year",
}

var fourDigits = regexp.MustCompile(`(?:19|20)\d\d`)

// YearIn is the only year in a file name, or 0.
func YearIn(name string) int {
	found := fourDigits.FindAllString(name, -1)
	if len(found) != 1 {
		return 0
	}
	year, _ := strconv.Atoi(found[0])
	return year
}

// sheet is how a package takes in one kind of spreadsheet.
func sheet(take func(context.Context, *store.Tx, io.Reader, string, inventory.IntakeOptions) (inventory.Intake, error)) func(context.Context, *store.Tx, *bufio.Reader, string, Options) (inventory.Intake, error) {
	return func(ctx context.Context, tx *store.Tx, r *bufio.Reader, name string, opt Options) (inventory.Intake, error) {
		return take(ctx, tx, r, name, opt.IntakeOptions)
	}
}
