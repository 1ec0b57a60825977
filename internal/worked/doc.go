// Package worked checks the engine against worked examples that were published with their answers, and against the published counts of
// benchmark circuits. It holds tests only.
package worked
