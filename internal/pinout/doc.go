// Package pinout holds no code of the program. Its tests compare the part library, pin by pin, with an open library of schematic
// symbols that others keep: by number, name and direction. What differs is settled by a data sheet in testdata/differences.yaml.
package pinout
