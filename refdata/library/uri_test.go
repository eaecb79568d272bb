package library

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A database is named as https://sqlite.org/uri.html asks, wherever the file lies: without a slash before it, the letter of a drive is
// taken for the name of a computer.
func TestFileURI(t *testing.T) {
	for path, want := range map[string]string{
		"/home/lab/ours.phases":    "file:///home/lab/ours.phases?mode=ro",
		"C:/Users/lab/ours.phases": "file:///C:/Users/lab/ours.phases?mode=ro",
		"//server/lab/ours.phases": "file:////server/lab/ours.phases?mode=ro",
		"/a b/50%?#.phases":        "file:///a%20b/50%25%3F%23.phases?mode=ro",
	} {
		assert.Equal(t, want, fileURI(path, "mode=ro"), path)
	}
}
