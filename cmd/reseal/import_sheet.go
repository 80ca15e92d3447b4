package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/condition/intake"
	"reseal/inventory/table"
)

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
			k, err := intake.Find(kind)
			switch {
			case err != nil || k.Sheet == nil:
				return usagef("there is no kind %q: it is one of %s", kind, kindNames())
			case c.Bool("describe"):
				return table.Describe(w.out, k.Sheet().Columns)
			}
			return table.Template(w.out, k.Sheet().Columns)
		},
	}
}

// kindNames are the kinds of spreadsheets.
func kindNames() string {
	var names []string
	for _, k := range intake.Kinds() {
		if k.Sheet != nil {
			names = append(names, k.Name)
		}
	}
	return strings.Join(names, ", ")
}
