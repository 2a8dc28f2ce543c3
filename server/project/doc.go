// Package project finds what belongs to a source file on disk: the project
// file with its settings, and the files it includes. The language server and
// the command line share it; the analysis itself does no I/O.
//
//	Finder      the nearest project file in the folders above a source
//	Fill, Valid settings from several places, one winning over the other,
//	            and what to do with values that are not known
//	Commands    compile flags of a source from a compilation database, and
//	            what they mean to the assembler
//	Bounds      the folders in which files may be read, whatever names them
//	Search      the files that sources ask for, and why one is not read
//	Graph       which sources include which, judged only by their lines
//	Candidates  where an included file may be
//	Disk        reads and parses each state of a file once
//
// Nothing here trusts the disk: only regular files within the bounds are read,
// up to a limit, and every answer carries what is needed to see later that it is outdated.
package project
