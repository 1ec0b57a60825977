// Package rules holds the rules of this repository as tests: who may import whom, what every package and file has to be like. It
// has no code of its own.
package rules
