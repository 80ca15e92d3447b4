package main

import (
	"bufio"
	"context"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

var sheetFlag = &cli.StringFlag{Name: "sheet", Usage: "the `NAME` of the sheet of a workbook; the first if not given"}

// sheetKind is one kind of spreadsheet that can be imported.
type sheetKind struct {
	name, usage, help string
	sheet             func() *inventory.Sheet
	take              importer
	odd               bool // entries can be odd
}

// sheetImport is how a package takes in one kind.
type sheetImport func(ctx context.Context, tx *store.Tx, r io.Reader, name string, opt inventory.IntakeOptions) (inventory.Intake, error)

func (f sheetImport) importer() importer {
	return func(ctx context.Context, tx *store.Tx, r *bufio.Reader, name string, opt inventory.IntakeOptions) (inventory.Intake, error) {
		return f(ctx, tx, r, name, opt)
	}
}

// sheetKinds are the kinds of spreadsheets, in the order in which a new
// inventory is filled.
var sheetKinds = []sheetKind{
	{name: "bridges", sheet: inventory.BridgeSheet},
	{
		name: "joints", usage: "joints with their present seals", sheet: inventory.JointSheet, take: sheetImport(inventory.ImportJoints).importer(), odd: true,
		help: "A row is about the joint with its tag, or else the joint of its bridge with its\nlabel, or else with its place and sequence; one that is not on record is added.\nA blank cell leaves what is on record.",
	},
	{
		name: "seals", usage: "the history of seals", sheet: inventory.SealSheet, take: sheetImport(inventory.ImportSeals).importer(),
		help: "A row for each seal that a joint, or a stretch of it, has had. Seals of a stretch\ncannot overlap in time.",
	},
	{
		name: "inspections", usage: "inspections with their feet by state, defects and gaps", sheet: condition.InspectionSheet, take: sheetImport(condition.ImportInspections).importer(), odd: true,
		help: "Rows of one joint, day and inspector that stand one below the other are one\ninspection. Nothing on record is overwritten: a correction names the day that it\nreplaces.",
	},
	{
		name: "readings", usage: "gap readings taken apart from inspections", sheet: condition.ReadingSheet, take: sheetImport(condition.ImportReadings).importer(), odd: true,
		help: "Several readings of one day and position are several readings, as the deck warms.",
	},
	{
		name: "findings", usage: "what was seen between inspections", sheet: inventory.FindingSheet, take: sheetImport(inventory.ImportFindings).importer(),
		help: "A row brings up to date the finding of its joint, kind, day and start, or adds it.",
	},
	{
		name: "work", usage: "work done at joints", sheet: inventory.WorkSheet, take: sheetImport(inventory.ImportWork).importer(),
		help: "Work with a new seal ends the seal in place and begins the row's. Nothing on\nrecord is overwritten: a correction names the day that it replaces.",
	},
	{
		name: "projects", usage: "bridge projects to come", sheet: inventory.ProjectSheet, take: sheetImport(inventory.ImportProjects).importer(),
		help: "A row brings up to date the project of its bridge, kind and year, or adds it.",
	},
}

func templateCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "template", Usage: "print an empty spreadsheet of a kind, or what its columns hold", ArgsUsage: "KIND",
		Description: "KIND is one of: " + kindNames() + ".\n\nexample: reseal import template joints > joints.csv",
		Flags:       []cli.Flag{&cli.BoolFlag{Name: "describe", Usage: "print what each column holds instead"}},
		Action: func(c *cli.Context) error {
			kind, err := oneArg(c, "a kind: "+kindNames())
			if err != nil {
				return err
			}
			for _, k := range sheetKinds {
				if k.name == kind && c.Bool("describe") {
					return table.Describe(w.out, k.sheet().Columns)
				} else if k.name == kind {
					return table.Template(w.out, k.sheet().Columns)
				}
			}
			return usagef("there is no kind %q: it is one of %s", kind, kindNames())
		},
	}
}

func kindNames() string {
	names := make([]string, len(sheetKinds))
	for i, k := range sheetKinds {
		names[i] = k.name
	}
	return strings.Join(names, ", ")
}
