package main

import (
	"fmt"
	"os"

	"github.com/urfave/cli/v2"

	"reseal/inventory/store"
)

func initCommand(w world) *cli.Command {
	return &cli.Command{
		Name:        "init",
		Usage:       "make an empty inventory",
		Description: "Makes the file that --db names, which must not exist.\n\nexample: reseal init --db network.gpkg",
		Action: func(c *cli.Context) error {
			if c.Args().Present() {
				return usagef("init takes no argument; name the file with --db")
			}
			path := c.String("db")
			if _, err := os.Stat(path); err == nil {
				return store.Invalid("name another file with --db", "%s exists already", path)
			}
			s, err := openStore(c, w, true)
			if err != nil {
				return err
			}
			fmt.Fprintf(w.err, "made %s; next: reseal import bridges FILE\n", path)
			return s.Close()
		},
	}
}
