package main

import (
	"fmt"
	"os"
	"os/exec"
)

// need is a program that the tests call, or a file that they read, and the Debian packages that bring it.
type need struct {
	program  string // "" for a file
	packages []string
	what     string
	file     string // absolute, "" for a program
}

// missing names the program or file when it is not there.
func (n need) missing() string {
	if n.file != "" {
		if _, err := os.Stat(n.file); err != nil {
			return n.file
		}
		return ""
	}
	if _, err := exec.LookPath(n.program); err != nil {
		return n.program
	}
	return ""
}

var needs = []need{
	{program: "iverilog", packages: []string{"iverilog"}, what: "the independent Verilog simulator that parts and faults are compared with"},
	{program: "ngspice", packages: []string{"ngspice"}, what: "the independent circuit simulator that the analogue engine is compared with"},
	{file: "/usr/share/kicad/symbols/74xx.kicad_sym", packages: []string{"kicad-symbols"}, what: "the open symbol library that pin-outs are compared with"},
	{program: "chromium", packages: []string{"chromium"}, what: "the browser in which the page is driven"},
	{program: "pdftotext", packages: []string{"poppler-utils"}, what: "the program that reads the report's PDF again"},
	{program: "gcc", packages: []string{"gcc", "libc6-dev"}, what: "the C compiler that Go's race detector is linked with"},
}

// install brings what is missing with apt-get where there is one; elsewhere it says what to install.
func install() error {
	var packages []string
	for _, n := range needs {
		name := n.missing()
		if name == "" {
			continue
		}
		fmt.Printf("%s is missing: %s\n", name, n.what)
		packages = append(packages, n.packages...)
	}
	if len(packages) == 0 {
		return nil
	}
	if _, err := exec.LookPath("apt-get"); err != nil {
		return fmt.Errorf("there is no apt-get here; install by hand what these Debian packages hold: %v", packages)
	}
	if err := apt("update"); err != nil {
		return err
	}
	return apt(append([]string{"install", "-y", "--no-install-recommends"}, packages...)...)
}

func apt(args ...string) error {
	name, args := "apt-get", append([]string{"-q"}, args...)
	if os.Geteuid() != 0 {
		name, args = "sudo", append([]string{"apt-get"}, args...)
	}
	c := exec.Command(name, args...)
	c.Env = append(os.Environ(), "DEBIAN_FRONTEND=noninteractive")
	c.Stdin, c.Stdout, c.Stderr = os.Stdin, os.Stdout, os.Stderr
	return c.Run()
}
