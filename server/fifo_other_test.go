//go:build !unix

package server

import "errors"

func mkfifo(string, uint32) error { return errors.ErrUnsupported }
