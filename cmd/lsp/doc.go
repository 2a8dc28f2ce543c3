// Command lsp is narrowgauge on the command line: the language server, and
// the same findings and rewrites for terminals and scripts.
//
//	main     commands, the server's log, explain, version
//	sources  which files, with which settings, including what
//	check    one analysis for each file, in parallel, printed in order
//	order    what is done ahead of its turn; tally each finding once, and sums
//	held     what cannot be printed yet; report the formats, a finding at a time
//	render   what a finding and its best rewrite look like in a terminal, and as JSON
//	summary  how many findings there are of each check; what may be done next
//	progress how far a long run is, on a terminal
//	fix      the safe rewrites until none is left, in place or as a diff
//	input    standard input as a source; what is no text
//	explain  what the analysis says of a name, a number or a line
//	survey   what is found out about sources: init writes it, doctor says it
//	usage    what may be meant by options and commands that are not known
//	complete what shells complete; manual and schema print what is made for others
//
// The work is done elsewhere; this package parses flags, reads files, and
// prints. Exit codes: 0 all well, 1 there are errors in the sources, 2 bad
// usage or unreadable input. The server exits as the protocol says: 1 if the
// client ends it without shutdown.
package main
