package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/forecast/plan"
	"reseal/inventory"
	"reseal/inventory/store"
)

func planCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "plan", Usage: "choose what to do in which year under the budget",
		Description: `Chooses for every joint a treatment and year, or none, so that the network's expected
cost is least within each year's money, and says how far from the best possible
plan it can be. What people decided (see reseal decide) is obeyed; committed deck
and bridge projects renew their joints in their year at no cost to these budgets.

Money is nominal, from the table budgets (reseal settings table import budgets
FILE) or --yearly. Costs are present values in constant dollars. The price of a
dollar is what one more dollar of the year saves, in present value. All years are
fiscal years.

Tables that a plan is held to, where they have rows (reseal settings table):
  budgets         the network's own money, a district's part of it, a fund's; a
                  year without a row has no limit of own money, and none of a fund
  funds           which treatments and routes a fund pays, less the match from own
                  money, until its last year; engineering and inspection on top
  closure_limits  the most bridges worked on along a route in a year
  deliveries      in-house or by contract, whose money is drawn lead_years before
                  the work; a contract of a district and year of obligation comes
                  to minimum_usd and least_jobs, visits aside, or is not let; more
                  jobs than most_jobs are told as several contracts
  crews           the shifts of a season for work in-house
  treatments      feet_per_shift, that a crew does in one closure; where it is blank
                  the crew sheet's feet an hour and the setting closure_hours tell
                  how many nights a job takes, each a shift, and night_usd what each
                  after the first costs
  seasons         the months in which a kind of seal goes in, told with the jobs
A bridge visit is own money of the year of the work.

A target is held at the end of a year: --target failed:2032:120 is at most 120
joints expected to have failed, --target cs4:2032:5% at most 5 % of the length in
CS4. With --target-price failed:2032:2500 each failed joint costs the plan $2,500
instead. Where no plan keeps every limit, exit 4 and says which, and what money
would do.

--explain JOINT tells why a joint is in the plan or not, and when. --compare sets
kept plans side by side: as a whole, by year, by district, and the joints that
moved; in CSV and JSON the joints, or what --show names.

example: reseal plan --yearly 2,000,000 --years 10 --name draft
example: reseal plan --years 10 --carry-over --target cs4:2030:5% --limits
example: reseal plan --explain J000123
example: reseal plan --compare draft,less,more --show districts`,
		Flags: append(whereFlags(),
			&cli.IntFlag{Name: "from", Usage: "the first fiscal `YEAR`; next year if not given"},
			&cli.IntFlag{Name: "years", Value: 10, Usage: "how `MANY` years, at most 30"},
			&cli.StringFlag{Name: "yearly", Usage: "nominal `DOLLARS` of each year, in place of the table budgets"},
			&cli.BoolFlag{Name: "carry-over", Usage: "own money left in a year can be used later"},
			&cli.StringSliceFlag{Name: "target", Usage: "how the network is to stand: `WHAT:YEAR:MOST`, may be repeated"},
			&cli.StringSliceFlag{Name: "target-price", Usage: "what falling short costs: `WHAT:YEAR:DOLLARS` a failed joint or a foot in CS4"},
			&cli.StringFlag{Name: "name", Usage: "keep the plan under this `NAME`"},
			&cli.StringFlag{Name: "compare", Usage: "kept plans side by side: `A,B`, or more"},
			&cli.StringFlag{Name: "show", Usage: "of a comparison only this `PART`: plans, years, districts or joints"},
			&cli.StringFlag{Name: "explain", Usage: "why this `JOINT` is in or not, and when"},
			&cli.StringFlag{Name: "lp", Usage: "write the instance as an LP file to `FILE`, or - for stdout, and stop"},
			&cli.BoolFlag{Name: "joints", Usage: "one row a treatment in place of the years"},
			&cli.BoolFlag{Name: "closures", Usage: "neighbouring bridges of a route that one closure serves in place of the years"},
			&cli.BoolFlag{Name: "projects", Usage: "committed bridge projects and what a year's delay of each costs in place of the years"},
			&cli.BoolFlag{Name: "limits", Usage: "crews, closures, targets and contracts in place of the years"},
			&cli.StringFlag{Name: "as-of", Usage: "as seen on this `DATE`; today if not given"},
			dryRunFlag, formatFlag),
		Action: func(c *cli.Context) error {
			if c.Args().Present() {
				return usagef("plan takes no argument; choose joints with its flags")
			}
			if c.String("compare") != "" {
				return comparePlans(c, w)
			}
			return makePlan(c, w)
		},
	}
}

// problem reads the flags that plan and budget share.
func problem(c *cli.Context, s *store.Store, m *forecast.Model, options forecast.Options) (*forecast.Problem, error) {
	o := forecast.PlanOptions{Options: options, FirstYear: c.Int("from"), Years: c.Int("years"), CarryOver: c.Bool("carry-over")}
	if o.FirstYear == 0 {
		o.FirstYear = m.YearOf(o.AsOf) + 1
	}
	if text := c.String("yearly"); text != "" {
		var err error
		if o.YearlyCents, err = money.Parse(text); err != nil || o.YearlyCents <= 0 {
			return nil, usagef("--yearly is dollars over 0, for example 2000000, not %q", text)
		}
	}
	var err error
	if o.Targets, err = planTargets(c.StringSlice("target"), c.StringSlice("target-price")); err != nil {
		return nil, err
	}
	return m.NewProblem(c.Context, s.Read(), o)
}

// planTargets reads WHAT:YEAR:MOST and WHAT:YEAR:DOLLARS; both of one year are one
// target.
func planTargets(most, prices []string) (targets []forecast.PlanTarget, err error) {
	read := func(flag, text string, set func(t *forecast.PlanTarget, value string) bool) error {
		parts := strings.Split(text, ":")
		bad := usagef("--%s is WHAT:YEAR:VALUE, for example failed:2032:120 or cs4:2032:5%%, not %q", flag, text)
		if len(parts) != 3 {
			return bad
		}
		year, err := strconv.Atoi(parts[1])
		if err != nil {
			return bad
		}
		at := slices.IndexFunc(targets, func(t forecast.PlanTarget) bool { return t.What == parts[0] && t.Year == year })
		if at < 0 {
			at = len(targets)
			targets = append(targets, forecast.PlanTarget{What: parts[0], Year: year, Most: -1})
		}
		if !set(&targets[at], parts[2]) {
			return bad
		}
		return nil
	}
	for _, text := range most {
		err := read("target", text, func(t *forecast.PlanTarget, value string) bool {
			number, isPct := strings.CutSuffix(value, "%")
			v, err := strconv.ParseFloat(number, 64)
			if t.Most = v; isPct {
				t.Most = v / 100
			}
			return err == nil && v >= 0 && isPct == (t.What == forecast.TargetCS4)
		})
		if err != nil {
			return nil, err
		}
	}
	for _, text := range prices {
		err := read("target-price", text, func(t *forecast.PlanTarget, value string) bool {
			cents, err := money.Parse(value)
			t.PriceDollars = float64(cents) / 100
			return err == nil && cents > 0
		})
		if err != nil {
			return nil, err
		}
	}
	return targets, nil
}

func makePlan(c *cli.Context, w world) error {
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		p, err := problem(c, s, m, o)
		if err != nil {
			return err
		}
		joint := c.String("explain")
		if joint != "" {
			named, err := inventory.FindJoint(c.Context, s.Read(), joint)
			if err != nil {
				return err
			}
			joint = named.Tag
		}
		if file := c.String("lp"); file != "" {
			return writeLP(w, p, file)
		}
		solved, failed := p.Solve(c.Context)
		if failed != nil && !errors.Is(failed, plan.ErrInfeasible) {
			return failed
		}
		switch {
		case joint != "":
			err = explain(c, w, p, solved, joint)
		case c.Bool("joints"):
			err = planItems(c, w, solved)
		case c.Bool("closures"):
			err = planClosures(c, w, t, p.Closures(solved))
		case c.Bool("projects"):
			err = planProjects(c, w, p)
		case c.Bool("limits"):
			err = planLimits(c, w, solved)
		default:
			err = planYears(c, w, p, solved)
		}
		if err != nil {
			return err
		}
		if name := c.String("name"); name != "" && failed == nil {
			update := s.Update
			if c.Bool("dry-run") {
				update = s.Try
			}
			before := ""
			err := update(c.Context, actor(c), func(ctx context.Context, tx *store.Tx) (err error) {
				if before, err = forecast.KeptBefore(ctx, tx, name); err != nil {
					return err
				}
				return solved.Keep(ctx, tx, name)
			})
			if before != "" {
				before = "; replaced the plan kept " + before + " under that name"
			}
			if err := done(c, w, err, "kept as %q%s", name, before); err != nil {
				return err
			}
		}
		if joint == "" {
			planNotes(c, w, p, solved)
		}
		notes(c, w, solved.OpenWords(), t.PriceWords()+".", illustrativeNote(p.Illustrative))
		fmt.Fprintln(w.err, caution)
		if failed != nil {
			return fmt.Errorf("%w: %s", errInfeasible, solved.Missing)
		}
		return nil
	})
}

// planNotes says what a planner is to look at in a plan.
func planNotes(c *cli.Context, w world, p *forecast.Problem, solved *forecast.Plan) {
	notes(c, w, forecast.NotJudged(p.NoForecast, p.NoLength)...)
	notes(c, w, freshSeals(solved)...)
	if len(p.Risks) > 0 && !c.Bool("projects") {
		notes(c, w, risksNote(p))
	}
	notes(c, w, sizedContracts(solved)...)
	if jobs, cost := solved.WholeBridges(); jobs > 0 {
		notes(c, w, fmt.Sprintf("of the jobs, %s for %s, visits aside: known only as quantities for a whole bridge, and nothing to send a crew to; find the joints first: reseal joint split",
			plural(jobs, "job"), money.FormatDollars(int64(cost))))
	}
	if len(p.Strangers) > 0 {
		notes(c, w, "limited in the tables, but without a bridge in the plan: "+strings.Join(p.Strangers, ", "))
	}
}

// planProgress says how near to the best the search for a plan has come.
func planProgress(gapPct float64) string {
	if math.IsNaN(gapPct) {
		return "looking for a plan"
	}
	return fmt.Sprintf("looking for a plan: within %.2f %% of the best", gapPct)
}

func writeLP(w world, p *forecast.Problem, file string) error {
	write := func(out io.Writer) error {
		b := bufio.NewWriterSize(out, 1<<16)
		if err := plan.WriteLP(b, &p.Instance); err != nil {
			return err
		}
		return b.Flush()
	}
	if file == "-" {
		return write(w.out)
	}
	f, err := newWholeFile(file)
	if err != nil {
		return err
	}
	defer f.discard()
	if err := write(f); err != nil {
		return err
	}
	if err := f.keep(); err != nil {
		return err
	}
	fmt.Fprintf(w.err, "wrote %s: the plan as an LP file, %s of %s; it was not solved, and nothing was kept\n",
		file, plural(len(p.Instance.Cost), "choice"), plural(len(p.Instance.FirstOption)-1, "joint"))
	return nil
}
