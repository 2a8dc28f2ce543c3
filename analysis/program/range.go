package program

// DataRange are the numbers that a datum of so many bytes holds, fewer than 8: as signed or
// as unsigned ones.
func DataRange(bytes int) (lo, hi int64) {
	return -(int64(1) << (bytes*8 - 1)), int64(1)<<(bytes*8) - 1
}
