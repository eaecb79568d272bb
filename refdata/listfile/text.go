package listfile

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"phasetally/xrd"
)

// MaxBytes is the largest list that is read.
const MaxBytes = 64 << 20

// Errors of text that is no list at all.
var (
	errTooLarge = errors.New("the file is larger than 64 MB")
	errBinary   = errors.New("the file is not text")
)

// readText returns the whole input as UTF-8 with LF line ends.
func readText(r io.Reader) (string, error) {
	raw, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	switch {
	case err != nil:
		return "", err
	case len(raw) > MaxBytes:
		return "", errTooLarge
	}
	text, err := decode(raw)
	if err != nil {
		return "", err
	}
	if strings.IndexByte(text, 0) >= 0 {
		return "", errBinary
	}
	return xrd.Printable(strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(text)), nil
}

// decode recognises UTF-16 by its mark or by the zero bytes beside a Latin header, UTF-8, and else takes Windows-1252.
func decode(raw []byte) (string, error) {
	wide := func(order unicode.Endianness) (string, error) {
		out, err := unicode.UTF16(order, unicode.UseBOM).NewDecoder().Bytes(raw)
		return string(out), err
	}
	switch {
	case bytes.HasPrefix(raw, []byte("\xff\xfe")), len(raw) > 3 && raw[0] != 0 && raw[1] == 0 && raw[2] != 0 && raw[3] == 0:
		return wide(unicode.LittleEndian)
	case bytes.HasPrefix(raw, []byte("\xfe\xff")), len(raw) > 3 && raw[0] == 0 && raw[1] != 0 && raw[2] == 0 && raw[3] != 0:
		return wide(unicode.BigEndian)
	}
	raw = bytes.TrimPrefix(raw, []byte("\xef\xbb\xbf"))
	if utf8.Valid(raw) {
		return string(raw), nil
	}
	return charmap.Windows1252.NewDecoder().String(string(raw))
}
