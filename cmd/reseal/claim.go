package main

import (
	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/inventory/store"
)

func claimCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "claim", Usage: "list the seals to be claimed under warranty",
		Description: `Lists each seal that showed a fault inside its warranty: length in CS3 or CS4 at the
latest inspection, or an open leak or loose steel, seen from the installation to the
warranty's last day. Whoever put it in is to mend it: such joints are left out of the
work list, and their work of the first year out of plan and budget, unless a severe
finding or a plate is open (the agency acts, and claims the cost) or a person pins them.
A claim whose warranty has ended (days below 0) is late: its work is at the agency's
cost again, in work list, plan and budget.

example: reseal claim --district 3 --format csv`,
		Flags: append(whereFlags(),
			&cli.StringFlag{Name: "as-of", Usage: "as seen on this `DATE`; today if not given"},
			formatFlag),
		Action: func(c *cli.Context) error { return claims(c, w) },
	}
}

func claims(c *cli.Context, w world) error {
	if c.Args().Present() {
		return usagef("claim takes no argument; choose joints with its flags")
	}
	return projecting(c, w, func(s *store.Store, m *forecast.Model, _ *forecast.Tables, o forecast.Options) error {
		all, err := m.Claims(c.Context, s.Read(), o)
		if err != nil {
			return err
		}
		out, err := newRows(c, w.out,
			column{name: "urgent", heading: "urgent"}, column{name: "joint", heading: "joint"}, column{name: "structure_number", heading: "bridge", shrink: true},
			column{name: "route", heading: "route", shrink: true}, column{name: "milepost"}, column{name: "district"}, column{name: "place"},
			column{name: "seal_kind", heading: "seal", shrink: true}, column{name: "length_ft", heading: "ft"}, column{name: "installed_on", heading: "installed"},
			column{name: "installed_by"}, column{name: "contract", heading: "contract", shrink: true}, column{name: "warranty_until", heading: "until"},
			column{name: "days_left", heading: "days"}, column{name: "seen_on"}, column{name: "fault"})
		if err != nil {
			return err
		}
		for _, k := range all {
			if err := out.add(k.Urgent, k.Tag, k.StructureNumber, k.Route, k.Milepost, k.District, k.Place, k.Kind, known(k.LengthFt), k.Installed,
				k.InstalledBy, k.Contract, k.WarrantyUntil, k.DaysLeft, k.SeenOn, k.Fault); err != nil {
				return err
			}
		}
		if err := out.close(); err != nil || out.format != "table" {
			return err
		}
		for _, k := range all {
			writeWrapped(w, k.Tag+": "+k.Fault)
		}
		notes(c, w, forecast.CountClaims(all).Words())
		return nil
	})
}
