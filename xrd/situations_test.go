package xrd_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSituationsAreTested: SITUATIONS.md has all twenty, and every test and script that it names is there.
func TestSituationsAreTested(t *testing.T) {
	raw, err := os.ReadFile("SITUATIONS.md")
	require.NoError(t, err)
	there := map[string]bool{}
	declared := regexp.MustCompile(`(?m)^func (Test\w+)\(`)
	require.NoError(t, filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range declared.FindAllSubmatch(text, -1) {
			there[string(m[1])] = true
		}
		return err
	}))
	rows := regexp.MustCompile(`(?m)^\| (\d+) \|.*$`).FindAllString(string(raw), -1)
	require.Len(t, rows, 20)
	for _, row := range rows {
		named := regexp.MustCompile("`(Test\\w+|\\.ci/[\\w.]+)`").FindAllStringSubmatch(row, -1)
		assert.NotEmpty(t, named, row)
		for _, n := range named {
			if script, ok := strings.CutPrefix(n[1], ".ci/"); ok {
				assert.FileExists(t, filepath.Join("..", ".ci", script))
				continue
			}
			assert.True(t, there[n[1]], "%s of %.20s", n[1], row)
		}
	}
}
