package cli

type versionCmd struct{}

func (versionCmd) Run(d *desk) error { return d.text("halfsplit " + d.version + "\n") }
