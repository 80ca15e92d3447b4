package main

import (
	"bufio"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/urfave/cli/v2"
)

// walk calls fn for every command and group.
func walk(commands []*cli.Command, path string, fn func(c *cli.Command, path string)) {
	for _, c := range commands {
		if c.Name == "help" {
			continue
		}
		fn(c, path+" "+c.Name)
		walk(c.Subcommands, path+" "+c.Name, fn)
	}
}

func TestEveryCommandHelps(t *testing.T) {
	walk(newApp(world{}).Commands, "reseal", func(c *cli.Command, path string) {
		if c.Usage == "" {
			t.Errorf("%s says nothing of itself", path)
		}
		if len(c.Subcommands) == 0 && !strings.Contains(c.Description, "example: "+path) {
			t.Errorf("the help of %s has no example", path)
		}
	})
}

// TestExamplesParse holds every example of the help and of the README to the
// flags of its own command: one that only the program knows, such as --by,
// would be taken for something else without a word.
func TestExamplesParse(t *testing.T) {
	app := newApp(world{})
	var examples []string
	walk(app.Commands, "reseal", func(c *cli.Command, _ string) {
		for _, line := range strings.Split(c.Description, "\n") {
			if example, ok := strings.CutPrefix(line, "example: "); ok {
				examples = append(examples, example)
			}
		}
	})
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(string(readme), "\n") {
		if strings.HasPrefix(line, "    reseal ") {
			command, _, _ := strings.Cut(line, "#")
			examples = append(examples, strings.TrimSpace(command))
		}
	}
	if len(examples) < 40 {
		t.Fatalf("only %d examples found", len(examples))
	}
	for _, example := range examples {
		commands, flags := app.Commands, []cli.Flag(nil)
		for _, word := range strings.Fields(example)[1:] {
			name, isFlag := strings.CutPrefix(word, "--")
			if c := named(commands, word); c != nil {
				commands, flags = c.Subcommands, append(flags, c.Flags...)
			} else if name, _, _ = strings.Cut(name, "="); isFlag && name != "db" && flagNamed(flags, name) == nil {
				t.Errorf("%s: the command has no flag --%s", example, name)
			}
		}
	}
}

func TestHelpOfACommand(t *testing.T) {
	_, out, _ := reseal(t, "none.gpkg", "inspect", "--help")
	for _, never := range []string{"VERB", "verbs:", "default: 0", "default: false"} {
		if strings.Contains(out, never) {
			t.Errorf("the help of inspect has %q:\n%s", never, out)
		}
	}
	if !strings.Contains(out, "--deck-temp-f TEMPERATURE") || !strings.Contains(out, "--help") {
		t.Errorf("the help of inspect lacks its flags:\n%s", out)
	}
}

// TestFlagsAfterArguments walks all commands: a flag that stands after an
// argument must be taken for a flag. The parser alone would pass it over
// without a word and, say, import for real.
func TestFlagsAfterArguments(t *testing.T) {
	app := newApp(world{})
	walk(app.Commands, "reseal", func(c *cli.Command, path string) {
		if len(c.Subcommands) > 0 {
			return
		}
		for _, f := range c.Flags {
			name := "--" + f.Names()[0]
			args := append(strings.Fields(path), "argument", name)
			want := append(strings.Fields(path), name)
			if takesValue(f) {
				args, want = append(args, "value"), append(want, "value")
			}
			want = append(want, "argument")
			got := hoistFlags(app, args)
			if strings.Join(got, " ") != strings.Join(want, " ") {
				t.Errorf("%s: got %q, want %q", strings.Join(args, " "), got, want)
			}
		}
	})
}

func TestHoistFlags(t *testing.T) {
	app := newApp(world{})
	for _, tt := range []struct{ name, args, want string }{
		{"program flag after the command", "reseal joint list --db a.gpkg", "reseal --db a.gpkg joint list"},
		{"joined value", "reseal joint show J1 --db=a.gpkg", "reseal --db=a.gpkg joint show J1"},
		{"negative number is an argument", "reseal joint split -4", "reseal joint split -4"},
		{"after two dashes nothing moves", "reseal joint show -- --odd", "reseal joint show -- --odd"},
		{"a dash is standard input", "reseal import bridges - --dry-run", "reseal import bridges --dry-run -"},
		{"an argument that is also a verb", "reseal joint show list", "reseal joint show list"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := strings.Join(hoistFlags(app, strings.Fields(tt.args)), " "); got != tt.want {
				t.Errorf("got %q, want %q", got, tt.want)
			}
		})
	}
}

func TestExitCodes(t *testing.T) {
	db := filepath.Join(t.TempDir(), "network.gpkg")
	for _, tt := range []struct {
		name, args string
		code       int
		says       string
	}{
		{"done", "init", exitDone, "made"},
		{"failed", "init", exitFailed, "exists already"},
		{"no such joint", "joint show J000009", exitFailed, "there is no joint"},
		{"no such joint in a plan", "plan --explain J000009", exitFailed, "there is no joint"},
		{"unknown command", "reseall", exitUsage, "there is no command"},
		{"unknown flag", "joint list --colour", exitUsage, "flag provided but not defined"},
		{"group without a verb", "joint", exitUsage, "needs a verb"},
		{"not a number", "joint list --near x,y", exitUsage, "--near is LON,LAT"},
		{"not a format", "joint list --format xml", exitUsage, "--format is table, csv or json"},
		{"the day in place of a name", "due --by 2027-06-30", exitUsage, "--due-by 2027-06-30"},
		{"place beyond the pole", "bridge add 41/A --at 10,170", exitUsage, "--at is LON,LAT"},
		{"day to come", "joint retire J000001 --on 2999-01-01", exitFailed, "is in the future"},
		{"no such rule", "check --rule colour", exitUsage, "there is no rule"},
		{"no file", "import bridges", exitUsage, "name the files"},
		{"missing file", "import bridges none.txt", exitFailed, "none.txt"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			code, out, messages := reseal(t, db, strings.Fields(tt.args)...)
			if code != tt.code || !strings.Contains(messages, tt.says) {
				t.Errorf("got %d with %q, want %d with %q", code, messages, tt.code, tt.says)
			}
			if code != exitDone && out != "" {
				t.Errorf("a failure wrote to standard output: %q", out)
			}
		})
	}
}

func TestInterruptedExit(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	db := filepath.Join(t.TempDir(), "network.gpkg")
	reseal(t, db, "init")
	w := world{in: strings.NewReader(""), out: &strings.Builder{}, err: &strings.Builder{}, now: fixedNow}
	if code := run(ctx, []string{"reseal", "--db", db, "joint", "propose"}, w); code != exitInterrupted {
		t.Errorf("got %d, want %d", code, exitInterrupted)
	}
}

// TestByHand takes a bridge from nothing to a confirmed joint with history.
func TestByHand(t *testing.T) {
	db := filepath.Join(t.TempDir(), "network.gpkg")
	do := must(t, db)
	do("init")
	do("bridge", "add", "53/0001", "--length-ft", "200", "--main-spans", "3", "--curb-width-ft", "40", "--skew-deg", "30", "--district", "03", "--at", "-122.25,47.5")
	code, _, messages := reseal(t, db, "budget", "--district", "3")
	if code != exitFailed || !strings.Contains(messages, `no district "3"`) || !strings.Contains(messages, "03") {
		t.Errorf("a district that nobody has: exit %d, %s", code, messages)
	}
	do("joint", "list", "--district", "03", "--bridge", "53/0001")
	do("joint", "propose", "--dry-run")
	if out := do("joint", "list", "--status", "proposed", "--format", "csv"); strings.Count(out, "\n") != 1 {
		t.Errorf("a dry run kept proposals:\n%s", out)
	}
	do("joint", "propose")
	if out := do("joint", "list"); strings.Contains(out, "J000001") {
		t.Errorf("a proposal counts before it is confirmed:\n%s", out)
	}
	do("joint", "confirm", "J000001", "J000002")
	do("joint", "reject", "--all")
	// 40 ft at 30 degrees are 46.188 ft along the joint: width / cos(skew).
	if out := do("joint", "list", "--format", "csv"); strings.Count(out, "46.2") != 2 {
		t.Errorf("want two joints of 46.2 ft:\n%s", out)
	}
	if out := do("settings", "table", "list"); !strings.Contains(out, "life_table") || !strings.Contains(out, "consequences") {
		t.Errorf("the tables are not listed:\n%s", out)
	}
	if out := do("check", "--cases", "--rule", "never inspected"); !strings.Contains(out, "what to do: never inspected: look at it when it is due: reseal due") {
		t.Errorf("the cases do not say what to do:\n%s", out)
	}
	do("joint", "edit", "J000002", "--label", "north end")
	if out := do("joint", "history", "north end"); !strings.Contains(out, "tester") || !strings.Contains(out, "label") {
		t.Errorf("history: %s", out)
	}
	do("inspect", "J000001", "--on", "2026-05-04", "--cs1", "40", "--cs2", "6", "--gap", "1.75", "--deck-temp-f", "61")
	do("inspect", "J000001", "--on", "2026-05-20", "--worst", "4", "--defect", "2330:4:0-12", "--accept-odd")
	card := do("joint", "show", "J000001")
	for _, want := range []string{"Joint J000001, in service\n", "worst state CS4 severe  by tester", "defect 2330 in CS4, 0 to 12 ft", "Stretch 1, 0 to 46.2 ft\n"} {
		if !strings.Contains(card, want) {
			t.Errorf("joint show lacks %q:\n%s", want, card)
		}
	}
	do("finding", "add", "J000001", "plate", "placed", "--urgency", "severe", "--on", "2026-06-01")
	if out := do("check"); !strings.Contains(out, "plate in place") {
		t.Errorf("check does not speak of the plate:\n%s", out)
	}
	if code, _, _ := reseal(t, db, "check", "--strict"); code != exitFailed {
		t.Errorf("check --strict: exit %d, want %d", code, exitFailed)
	}
	if out := do("due"); !strings.Contains(out, "plate") && !strings.Contains(out, "severe") {
		t.Errorf("due:\n%s", out)
	}
	do("finding", "close", "1", "--notes", "plate removed")
	do("bridge", "retire", "0001", "--on", "2026-10-01")
	if out := do("joint", "list", "--format", "csv"); strings.Count(out, "\n") != 1 {
		t.Errorf("joints in service on a retired bridge:\n%s", out)
	}
	if out := do("joint", "list", "--status", "retired"); !strings.Contains(out, "J000001") {
		t.Errorf("the retired joint is gone:\n%s", out)
	}
}

// fixedNow is the clock of the tests.
func fixedNow() time.Time { return time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC) }

func TestPlacedBridgeDrawsItsJoints(t *testing.T) {
	db := filepath.Join(t.TempDir(), "network.gpkg")
	do := must(t, db)
	do("init")
	do("bridge", "add", "53/0001", "--length-ft", "200", "--curb-width-ft", "40")
	do("joint", "add", "0001", "--place", "abutment", "--length-ft", "40")
	if out := do("joint", "show", "J000001", "--format", "json"); !strings.Contains(out, `"geometry": null`) {
		t.Errorf("a joint of a bridge without a place has a line:\n%s", out)
	}
	do("bridge", "edit", "0001", "--at", "-122.25,47.5")
	if out := do("joint", "show", "J000001", "--format", "json"); !strings.Contains(out, `"geometry_source": "drawn"`) || !strings.Contains(out, "LineString") {
		t.Errorf("the joint was not drawn when its bridge was placed:\n%s", out)
	}
	if out := do("joint", "list", "--near", "-122.25,47.5", "--within", "100"); !strings.Contains(out, "J000001") {
		t.Errorf("the spatial index does not find the new line:\n%s", out)
	}
}

// TestRefusedByHand: entries that cannot be true are refused with a next step.
func TestRefusedByHand(t *testing.T) {
	db := filepath.Join(t.TempDir(), "network.gpkg")
	do := must(t, db)
	do("init")
	do("bridge", "add", "53/0001", "--length-ft", "200")
	do("joint", "add", "0001", "--place", "abutment", "--length-ft", "40", "--kind", "Strip seal", "--installed", "2019-06-01")
	do("inspect", "J000001", "--on", "2021-05-04", "--cs1", "40", "--leaking")
	do("inspect", "J000001", "--on", "2021-05-04", "--cs1", "38", "--cs2", "2", "--leaking=false", "--replaces", "1")
	if out := do("joint", "list", "--kind", "strip seal", "--format", "csv"); !strings.Contains(out, "J000001") {
		t.Errorf("the kind is not spelled as the agency does:\n%s", out)
	}
	if out := do("joint", "show", "J000001", "--format", "json"); strings.Count(out, `"leaking": false`) != 1 {
		t.Errorf("want one inspection that saw no leak:\n%s", out)
	}
	for _, test := range []struct{ args, says string }{
		{"joint add 0001 --place pier --length-ft 40 --kind nonsense", "it is one of: "},
		{"joint add 0001 --place pier --length-ft 40 --installed 2031-01-01", "2031-01-01 is a day to come"},
		{"finding add J000001 leak --from-ft 30 --to-ft 45", "give feet from 0 to 40"},
		{"finding add J000001 leak --from-ft -1", "give feet from 0 to 40"},
		{"inspect J000001 --on 2021-05-04 --cs1 40 --replaces 1", "correct that one: --replaces 2"},
		{"inspect J000001 --on 2021-05-04 --cs1 40 --replaces 7", "has no inspection 7"},
	} {
		code, _, messages := reseal(t, db, strings.Fields(test.args)...)
		if code == exitDone || !strings.Contains(messages, test.says) || strings.Contains(messages, "UNIQUE") {
			t.Errorf("reseal %s: exit %d: %s; want %q", test.args, code, messages, test.says)
		}
	}
}

// TestDueIsWhole: how long an inspection is overdue, and every word of why.
func TestDueIsWhole(t *testing.T) {
	db := filepath.Join(t.TempDir(), "network.gpkg")
	do := must(t, db)
	do("init")
	do("bridge", "add", "53/0001", "--length-ft", "200", "--route", "Interstate 5")
	do("joint", "add", "0001", "--place", "abutment", "--length-ft", "40", "--kind", "strip seal")
	do("inspect", "J000001", "--on", "2021-05-04", "--cs1", "30", "--cs4", "10")
	do("finding", "add", "J000001", "plate", "placed", "--on", "2021-06-01", "--urgency", "severe")
	do("finding", "add", "J000001", "spalled", "header", "--on", "2021-06-02", "--urgency", "soon")
	out := do("due")
	if !strings.Contains(out, "days over") {
		t.Errorf("no day counted:\n%s", out)
	}
	csv := do("due", "--format", "csv")
	why := strings.Split(strings.Split(csv, "\n")[1], ",")
	if days := why[6]; days == "" || days == "0" {
		t.Errorf("not overdue: %s", csv)
	}
	words := strings.Join(strings.Fields(out), " ")
	for word := range strings.FieldsSeq(strings.Trim(why[7], `"`)) {
		if !strings.Contains(words, word) {
			t.Errorf("%q of %q is not shown:\n%s", word, why[7], out)
		}
	}
}

// must runs commands that have to succeed, and returns what they answer.
func must(t *testing.T, db string) func(args ...string) string {
	return func(args ...string) string {
		t.Helper()
		code, out, messages := reseal(t, db, args...)
		if code != exitDone {
			t.Fatalf("reseal %s: exit %d: %s", strings.Join(args, " "), code, messages)
		}
		return out
	}
}

// tableOf prints rows of text under headings in a table of so many columns of text.
func tableOf(t *testing.T, width int, columns []column, cells ...[]any) string {
	t.Helper()
	var out strings.Builder
	r := &rows{columns: columns, out: bufio.NewWriter(&out), format: "table", width: width, right: make([]bool, len(columns))}
	for _, row := range cells {
		if err := r.add(row...); err != nil {
			t.Fatal(err)
		}
	}
	if err := r.close(); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// TestBlankColumnGoesFirst: a table that is too wide gives up a column that
// says nothing before it breaks one that does.
func TestBlankColumnGoesFirst(t *testing.T) {
	why := strings.Repeat("w", tableWidth)
	got := tableOf(t, tableWidth, []column{{heading: "why", shrink: true}, {heading: "access", shrink: true}}, []any{why, nil})
	if got != "why\n"+why+"\n" {
		t.Errorf("got:\n%s", got)
	}
}

// TestTablesAreNotCut: where a table is too wide, headings and then text go on in
// the next line, no word is broken, and short names stay whole; a terminal wide
// enough has each row on one line.
func TestTablesAreNotCut(t *testing.T) {
	columns := []column{{heading: "name", shrink: true}, {heading: "route", shrink: true}, {heading: "feet per shift"}, {heading: "note", shrink: true}}
	row := []any{"new gland in existing rails", "Route 5", 1200, "too wide when cold, crushed when hot"}
	want := `name            route     feet  note
                           per
                         shift
new gland in    Route 5   1200  too wide when
existing rails                  cold, crushed
                                when hot
`
	if got := tableOf(t, 46, columns, row); got != want {
		t.Errorf("got:\n%s", got)
	}
	if got := tableOf(t, 200, columns, row); strings.Count(got, "\n") != 2 || !strings.Contains(got, "new gland in existing rails  Route 5") {
		t.Errorf("got:\n%s", got)
	}
	if got := tableOf(t, 5, columns, row); strings.Contains(got, "…") || !strings.Contains(got, "existing") {
		t.Errorf("got:\n%s", got)
	}
}

// TestTableDescribe: what each column of a table holds is told before it is filled in.
func TestTableDescribe(t *testing.T) {
	code, out, messages := reseal(t, filepath.Join(t.TempDir(), "none.gpkg"), "settings", "table", "describe", "budgets")
	if code != exitDone {
		t.Fatal(messages)
	}
	for _, want := range []string{"budgets: the money of each fiscal year", "2028 network", "blank is the network", "a fund of the table funds", "amount_usd"} {
		if !strings.Contains(out, want) {
			t.Errorf("not said: %q\n%s", want, out)
		}
	}
}
