package main

import (
	"github.com/urfave/cli/v2"
)

func reportCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "report", Usage: "the state of the network for the quarter's meeting",
		Description: `--quarter tells what became of the approved work in the fiscal quarter of a day:
approved against done, what was dropped and why, inspections overdue, plates that
lie and for how long, and what a foot really cost.

example: reseal report --quarter --date 2026-09-30`,
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "quarter", Usage: "the fiscal quarter in figures"},
			&cli.StringFlag{Name: "date", Usage: "with --quarter: a `DAY` in it; today if not given"},
			formatFlag,
		},
		Action: func(c *cli.Context) error {
			if c.Args().Present() {
				return usagef("report takes no argument")
			}
			return quarterReport(c, w)
		},
	}
}
