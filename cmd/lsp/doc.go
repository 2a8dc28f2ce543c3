// Command lsp is narrowgauge on the command line: the language server, and
// the same findings and rewrites for terminals and scripts.
//
//	main     commands, the server's log, explain, version
//	sources  which files, with which settings, including what
//	check    one analysis for each file, in parallel, printed in order
//	render   what a finding and its best rewrite look like in a terminal
//	fix      the safe rewrites until none is left, in place or as a diff
//
// The work is done elsewhere; this package parses flags, reads files, and
// prints. Exit codes: 0 all well, 1 there are errors in the sources, 2 bad
// usage or unreadable input. The server exits as the protocol says: 1 if the
// client ends it without shutdown.
package main
