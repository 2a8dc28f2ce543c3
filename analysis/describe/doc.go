// Package describe says what is in a source, and what may be: hovers, completions, folds, the outline, definitions,
// references, stretches by mode, what conditions leave out, and the explanations of
// checks, rewrites, instructions and directives.
package describe
