// Command halfsplit finds faults on boards of the TTL, CMOS and early microprocessor era.
package main

import (
	"context"
	"os"
	"os/signal"
	"runtime/debug"

	"halfsplit/internal/adapter/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	status := cli.Run(ctx, os.Args[1:], cli.Streams{In: os.Stdin, Out: os.Stdout, Err: os.Stderr}, version())
	stop()
	os.Exit(status)
}

// version is the module's version, with the commit where it was built from a checkout.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "(unknown)"
	}
	v := info.Main.Version
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && v == "(devel)" && len(s.Value) >= 12 {
			v += " " + s.Value[:12]
		}
	}
	return v
}
