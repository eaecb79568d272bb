package resultfile

import (
	"bytes"

	"phasetally/xrd/result"
)

// SeriesJSON, SeriesCSV and SeriesParquet return what their writers write.

func SeriesJSON(s result.Series) ([]byte, error) {
	var b bytes.Buffer
	err := WriteSeriesJSON(&b, s)
	return b.Bytes(), err
}

func SeriesCSV(s result.Series) []byte {
	var b bytes.Buffer
	_ = WriteSeriesCSV(&b, s, Locale{}) // a bytes.Buffer does not fail
	return b.Bytes()
}

func SeriesParquet(s result.Series) ([]byte, error) {
	var b bytes.Buffer
	err := WriteSeriesParquet(&b, s)
	return b.Bytes(), err
}
