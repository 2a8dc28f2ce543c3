//go:build !unix

package save

const noWait = 0

func (i *Info) owner() {}
