package main

import (
	"fmt"
	"os"
	"os/exec"
)

// need is a program that the tests call, and the Debian packages that bring it.
type need struct {
	program  string
	packages []string
	what     string
}

var needs = []need{
	{"iverilog", []string{"iverilog"}, "the independent Verilog simulator that parts and faults are compared with"},
	{"ngspice", []string{"ngspice"}, "the independent circuit simulator that the analogue engine is compared with"},
	{"gcc", []string{"gcc", "libc6-dev"}, "the C compiler that Go's race detector is linked with"},
}

// install brings what is missing with apt-get where there is one; elsewhere it says what to install.
func install() error {
	var packages []string
	for _, n := range needs {
		if _, err := exec.LookPath(n.program); err == nil {
			continue
		}
		fmt.Printf("%s is missing: %s\n", n.program, n.what)
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
