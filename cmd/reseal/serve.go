package main

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"

	"github.com/urfave/cli/v2"

	"reseal/cmd/reseal/web"
	"reseal/inventory/store"
)

func serveCommand(w world) *cli.Command {
	return &cli.Command{
		Name:  "serve",
		Usage: "the inventory in a browser: map, work list, inspections, budget",
		Description: `Serves the pages on this machine, and OGC API - Features at /ogc for a GIS. An
inventory that is not there yet is made, empty; the first page leads on from
there. Ctrl-C stops it.

Behind the map are the outlines of counties and states, which it brings along.
--background puts the agency's own map there: a PMTiles file, which is served
too, or the address of a tile server, the one host that the pages then ask.

Each change goes on record with a name: that of --by or of the system's user, until
somebody gives another in the browser. Where there is none, and for all who come
through a proxy, the pages ask for it before they change anything. They do not ask
for a password: on any address but this machine's own, serve starts only behind a
proxy that does sign-in and TLS.

example: reseal serve
example: reseal --db network.gpkg serve --listen 127.0.0.1:8090
example: reseal serve --background streets.pmtiles`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "listen", Value: "127.0.0.1:8080", Usage: "the `ADDRESS`:PORT to answer on"},
			&cli.StringFlag{Name: "background", Usage: "behind the map: a PMTiles `FILE`, or an address with {z}, {x} and {y}"},
			&cli.BoolFlag{Name: "behind-proxy", Usage: "a proxy in front does sign-in and TLS"},
		},
		Action: func(c *cli.Context) error { return serve(c, w) },
	}
}

func serve(c *cli.Context, w world) (err error) {
	if c.Args().Present() {
		return usagef("serve takes no argument; name the inventory with --db")
	}
	address := c.String("listen")
	if !c.Bool("behind-proxy") && !web.LocalAddress(address) {
		return usagef("--listen %s can be reached from other machines, and reseal has no sign-in of its own: "+
			"put a proxy that does sign-in and TLS in front and say --behind-proxy, or listen on 127.0.0.1", address)
	}
	l, err := new(net.ListenConfig).Listen(c.Context, "tcp", address)
	if err != nil {
		return store.Invalid("another program may use it: choose another with --listen 127.0.0.1:PORT", "%s: %v", address, err)
	}
	defer l.Close() // for when the inventory cannot be opened
	if _, err := os.Stat(c.String("db")); errors.Is(err, fs.ErrNotExist) {
		fmt.Fprintf(w.err, "%s is not there: an empty inventory is made\n", c.String("db"))
	}
	s, err := openStore(c, w, true)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	person := c.String("by")
	if c.Bool("behind-proxy") { // many people come that way
		person = ""
	}
	pages, err := web.New(c.Context, web.Options{Store: s, Person: person, BehindProxy: c.Bool("behind-proxy"), Background: c.String("background"), Log: w.err})
	if err != nil {
		return err
	}
	defer pages.Close()
	collectAt(50) // it stays up; see web's frugal for when plans are made
	fmt.Fprintf(w.err, "%s is at http://%s  (Ctrl-C stops it)\n", s.Path(), l.Addr())
	return pages.Serve(c.Context, l)
}
