package main

import (
	"strings"

	"github.com/urfave/cli/v2"
)

// hoistFlags moves flags to where the flag parser looks for them: it stops at
// the first argument, and would pass over what follows without a word. Flags
// of the program go before the command, flags of a command before its
// arguments; everything after "--" is left alone.
func hoistFlags(app *cli.App, args []string) []string {
	if len(args) == 0 {
		return args
	}
	var global, path, local, rest []string
	commands, flags := app.Commands, []cli.Flag(nil)
	for i := 1; i < len(args); i++ {
		arg := args[i]
		if arg == "--" {
			rest = append(rest, args[i:]...)
			break
		}
		if len(arg) < 2 || arg[0] != '-' || isNumber(arg) {
			if c := named(commands, arg); c != nil && len(rest) == 0 {
				path, commands, flags = append(path, arg), c.Subcommands, append(flags, c.Flags...)
			} else {
				rest = append(rest, arg)
			}
			continue
		}
		name, _, joined := strings.Cut(strings.TrimLeft(arg, "-"), "=")
		into := &local
		f := flagNamed(flags, name)
		if f == nil {
			if f = flagNamed(app.Flags, name); f != nil {
				into = &global
			}
		}
		*into = append(*into, arg)
		if takesValue(f) && !joined && i+1 < len(args) {
			i++
			*into = append(*into, args[i])
		}
	}
	out := append([]string{args[0]}, global...)
	return append(append(append(out, path...), local...), rest...)
}

func isNumber(arg string) bool {
	return len(arg) > 1 && arg[0] == '-' && (arg[1] == '.' || arg[1] >= '0' && arg[1] <= '9')
}

func named(commands []*cli.Command, name string) *cli.Command {
	for _, c := range commands {
		if c.HasName(name) {
			return c
		}
	}
	return nil
}

func flagNamed(flags []cli.Flag, name string) cli.Flag {
	for _, f := range flags {
		for _, n := range f.Names() {
			if n == name {
				return f
			}
		}
	}
	return nil
}

func takesValue(f cli.Flag) bool {
	d, ok := f.(cli.DocGenerationFlag)
	return ok && d.TakesValue()
}

// helpFor names the help of the command that args ask for.
func helpFor(app *cli.App, args []string) string {
	words := "reseal"
	commands := app.Commands
	for _, a := range args[min(1, len(args)):] {
		if c := named(commands, a); c != nil {
			words, commands = words+" "+a, c.Subcommands
		}
	}
	return words + " --help"
}

// helpOf is the template of a command's help. A flag that stands at nothing
// does not speak of its default: no temperature is not 0 °F.
func helpOf(c *cli.Command) string {
	var flags strings.Builder
	for _, f := range append(c.Flags, cli.HelpFlag) {
		line := strings.NewReplacer(" (default: 0)", "", " (default: false)", "").Replace(f.String())
		flags.WriteString("  " + line + "\n")
	}
	return helpTemplate + "\nflags:\n" + flags.String()
}

const helpTemplate = `{{.HelpName}} - {{.Usage}}

  {{.HelpName}}{{if .VisibleCommands}} VERB{{end}} [flags]{{if .ArgsUsage}} {{.ArgsUsage}}{{end}}
{{if .Description}}
{{.Description}}
{{end}}{{if .VisibleCommands}}
verbs:
{{range .VisibleCommands}}{{if ne .Name "help"}}  {{printf "%-12s" .Name}} {{.Usage}}
{{end}}{{end}}{{end}}`
