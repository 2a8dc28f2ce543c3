//go:build !linux

package save

import "os"

func flags(*os.File) int { return 0 }

func setFlags(*os.File, int) error { return nil }
