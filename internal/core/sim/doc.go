// Package sim settles a board, good and faulty, for 64 hypotheses at once.
//
// Every value is held in words of 64 lanes, one lane a hypothesis: two planes for a heard level (may be 0, may
// be 1), four for a net (may be 0, 1, floating, a fight). A fault is a patch: a primitive change at a pin, net, link,
// lamp or input in some lanes; the package knows no kinds of fault beyond that.
//
// The good board is settled once for each experiment and its rounds are kept (Trace). A batch of 64 faulty boards then
// follows the trace and computes only what differs from it, and of that only what depends on something that has changed since the
// round before: that is the whole trick, and why it is fast. Alternatives tried: settling every batch from scratch (cost: the
// whole board each round instead of the fault's cone), and computing every difference afresh each round (cost: the cone each round instead
// of its activity; twice as slow on boards of 200 packages).
//
// The meaning is docs/simulation.md; package ref says the same thing slowly and shares no code.
package sim
