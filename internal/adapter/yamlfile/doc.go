// Package yamlfile reads and writes the two files a technician keeps: the board and the case.
//
// A file passes through four stages, each with its own file here:
//
//	limits.go    bytes: size, encoding, characters that no text file holds
//	compose.go   tokens of the YAML library to a tree of nodes, each with line and column
//	board.go …   nodes to board.Board, case.go … to evidence.Case, collecting findings
//	write.go …   the way back: canonical text that reads as the same board or case
//
// Only the scanner of the YAML library is used, not its parser: the parser recurses once for every key of a
// mapping and copies what it has on the way back, so that 50 000 parts took 10 s and a larger file could end the
// process by exhausting the stack, which no recover can catch. The composer here is linear and its depth is bounded.
//
// Everything wrong in a file is a finding with line and column; what could be read is returned beside it.
// No input makes the readers panic, and the work is bounded by the limits in limits.go.
package yamlfile
