// Package save puts a new text in the place of a file's, so that whoever looks
// sees the old text or the new one, and what is lost when something fails in
// between is nothing.
//
// [Replace] has two ways. Where it can, it writes a new file beside the old one
// and renames it: owner, mode and extended attributes are copied first. Where
// that would lose something, as with a file that has other names (hard links)
// or belongs to somebody else, it writes into the file, with a copy of the old
// text beside it until the new text is on the disk; if writing fails, the old
// text is put back, and if that fails as well, the error names the copy.
//
// In both ways of Replace the file is read once more just before, and left alone if it is
// not what the caller has read: another program has written to it.
//
// What the system was told to keep as it is, or to let only grow, is left alone, and a file in
// such a folder as well: nothing that is made there for a moment could be removed.
//
// [New] makes a file that was not there in the same way: with all of its text, or not.
//
// Everything that it asks of the system goes through [System], so that tests can
// let any single call fail. A [Journal] keeps what undoes a change.
package save
