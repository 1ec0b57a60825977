// Package sim settles a board, good and faulty, for 64 hypotheses at once.
//
// Every value is held in words of 64 lanes, one lane a hypothesis: two planes for a heard level (may be 0, may
// be 1), four for a net (may be 0, 1, floating, a fight). A fault is a patch: a primitive change at a pin, net, link,
// lamp or input in some lanes; the package knows no kinds of fault beyond that.
//
// The good board is settled once for each experiment and its rounds are kept (Trace). A batch of 64 faulty boards then
// follows the trace and computes only what differs from it: that is the whole trick, and why it is fast. Alternatives tried on
// paper: settling every batch from scratch (cost: the whole board each round instead of the fault's cone), and following
// changes in time instead of differences (cost: the board's activity instead of the fault's).
//
// The meaning is docs/simulation.md; package ref says the same thing slowly and shares no code.
package sim
