// Package analysis is the facade: settings and input in, facts about a program out.
// Analyze assembles (package assemble) and follows execution (package flow); the
// methods of Result ask packages describe and rewrite. It does no I/O and changes
// no global.
package analysis
