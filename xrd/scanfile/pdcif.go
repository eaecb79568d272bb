package scanfile

import (
	"bufio"
	"bytes"

	"phasetally/xrd"
)

// isCIF recognises a CIF by its first lines without consuming them.
func isCIF(text *bufio.Reader) bool {
	head, _ := text.Peek(sniffed)
	for line := range bytes.Lines(head) {
		line = bytes.TrimSpace(line)
		if len(line) == 0 || line[0] == '#' {
			continue
		}
		line = bytes.ToLower(line)
		return bytes.HasPrefix(line, []byte("data_")) || bytes.HasPrefix(line, []byte("loop_")) || bytes.HasPrefix(line, []byte("_pd_"))
	}
	return false
}

// readCIF reads a powder CIF.
func (f *file) readCIF(text *bufio.Reader) (xrd.Scan, error) {
	return xrd.Scan{}, f.fail(ErrNoData)
}
