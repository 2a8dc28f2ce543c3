//go:build !reftools

package unicorn

import "errors"

// Built says whether the library is linked.
const Built = false

var errNotBuilt = errors.New("not built: needs the build tag reftools")

// impl is never used: Open asks Built first.
type impl struct{}

func (*impl) open(string, bool) error                { return errNotBuilt }
func (*impl) close()                                 {}
func (*impl) mapMemory(_, _ uint32) error            { return errNotBuilt }
func (*impl) write(uint32, []byte) error             { return errNotBuilt }
func (*impl) follow(int) error                       { return errNotBuilt }
func (*impl) steps([]Step) []Step                    { return nil }
func (*impl) run(*Snippet, bool) (r Result, _ error) { return r, errNotBuilt }
