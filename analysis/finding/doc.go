// Package finding has what an analysis tells: findings with their places and
// severities, and the registry of checks, the only place where one is described.
//
// A Diagnostic is plain data: a path, a span of bytes, a code, a sentence. Related
// places explain it. Whoever makes findings turns places in expansions of macros
// and in lines that the preprocessor changed into plain ones first (package
// wording); nothing here knows statements or sources.
//
// Similar names for what is misspelt are found here too, as settings, names of
// instructions and directives all need them.
package finding
