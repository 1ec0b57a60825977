// Package spice compares the analogue engine with an independent circuit simulator, ngspice. It holds tests only: decks
// are written from the same netlists and parameters, with the macro-models spelled out as behavioural sources, and both
// answers are compared. The simulator is run as a separate program, many circuits to one process.
package spice
