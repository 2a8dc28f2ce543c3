//go:build !linux && !darwin

package save

import "os"

func attributes(*os.File) (map[string][]byte, error) { return nil, nil }

func setAttribute(*os.File, string, []byte) error { return nil }

func removeAttribute(*os.File, string) error { return nil }
