// Package server is the language server: LSP 3.17 over a pair of streams.
//
// The story of one message:
//
//	stream      frames it; what is malformed is answered and survived
//	server      dispatches it: changes at once and in order, questions in a
//	            goroutine of their own; cancels, recovers, replies once
//	snapshot    the state that a question is answered from: documents and one
//	            analysis for each, started when first asked for
//	hosts       finds the root that speaks for a document which is included
//	diagnostics publishes the findings of each snapshot, merged by document
//	actions, features, tokens, signature, hints, lenses, links
//	            answer questions from the analysis
//	position, uri
//	            convert between the protocol's terms and byte offsets and paths
//	protocol    has what the protocol library lacks
//
// Invariants:
//
//   - A message cannot end the process, except for exit.
//   - A snapshot never changes. Whoever holds one sees one state.
//   - A change cancels the work that it makes stale, in one place
//     ([Server.update]), and only because the new snapshot does it again. What a
//     question waits for goes on unless its own text changes ([question]).
//   - A question that is asked by the way is answered, or given up, within a bound; one that
//     somebody has put himself makes way after that while other documents wait.
//   - Nothing goes to the output but frames; the log goes elsewhere.
//   - Only this package knows the protocol; only [project] reads sources.
//   - URIs of the client are echoed, never rebuilt, and never trusted.
package server
