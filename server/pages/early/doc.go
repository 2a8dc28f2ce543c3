// Package early has the system map the program in a few pieces, at its start. The program
// imports it, and nothing in it is called.
//
// A process touches some hundred pages of the program's file, most with a fault; on a virtual
// machine that is a tenth of the time that a check of a short source takes. The package imports
// as little as it can, so that it is initialised before most others.
package early
