package scanfile

import (
	"bufio"
	"bytes"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// sniffed is how much of a file is looked at to recognise its encoding and kind.
const sniffed = 4096

// decoded returns the text as UTF-8 without a byte-order mark. It refuses what is not text with ErrBinary.
func decoded(r io.Reader) (*bufio.Reader, error) {
	raw := bufio.NewReaderSize(r, sniffed)
	head, err := raw.Peek(sniffed)
	if err != nil && err != io.EOF && len(head) == 0 {
		return nil, err
	}
	if len(head) == 0 {
		return nil, ErrNoData
	}
	if order, ok := wideOrder(head); ok {
		wide := unicode.UTF16(order, unicode.UseBOM).NewDecoder()
		return bufio.NewReaderSize(transform.NewReader(raw, wide), sniffed), nil
	}
	if bytes.IndexByte(head, 0) >= 0 {
		return nil, ErrBinary
	}
	if bytes.HasPrefix(head, []byte("\xef\xbb\xbf")) {
		_, _ = raw.Discard(3)
	}
	return raw, nil
}

// wideOrder recognises UTF-16 by its byte-order mark or, without one, by the zero bytes on one side of every letter.
func wideOrder(head []byte) (unicode.Endianness, bool) {
	if bytes.HasPrefix(head, []byte("\xff\xfe")) {
		return unicode.LittleEndian, true
	}
	if bytes.HasPrefix(head, []byte("\xfe\xff")) {
		return unicode.BigEndian, true
	}
	var zeros [2]int
	for i, b := range head {
		if b == 0 {
			zeros[i%2]++
		}
	}
	switch half := len(head) / 2; {
	case zeros[0] == 0 && zeros[1]*4 > half*3:
		return unicode.LittleEndian, true
	case zeros[1] == 0 && zeros[0]*4 > half*3:
		return unicode.BigEndian, true
	}
	return unicode.BigEndian, false
}

// splitLines is a bufio.SplitFunc for LF, CRLF and CR.
func splitLines(data []byte, atEOF bool) (advance int, token []byte, err error) {
	i := bytes.IndexAny(data, "\r\n")
	switch {
	case i < 0 && atEOF && len(data) > 0:
		return len(data), data, nil
	case i < 0:
		return 0, nil, nil
	case data[i] == '\n':
		return i + 1, data[:i], nil
	case i+1 < len(data) && data[i+1] == '\n':
		return i + 2, data[:i], nil
	case i+1 == len(data) && !atEOF:
		return 0, nil, nil // the LF may be still to come
	}
	return i + 1, data[:i], nil
}

// utf8Text returns s, read as Windows-1252 where it is not valid UTF-8.
func utf8Text(s string) string {
	if utf8.ValidString(s) {
		return s
	}
	out, err := charmap.Windows1252.NewDecoder().String(s)
	if err != nil {
		return string(bytes.ToValidUTF8([]byte(s), []byte("?")))
	}
	return out
}
