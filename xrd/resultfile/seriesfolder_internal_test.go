package resultfile

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every name gives a folder of its own that is a plain name, whatever the scan is called.
func FuzzFolderNames(f *testing.F) {
	f.Add("a/one.xy", "b/one.xy", "one-2.xy")
	f.Add("../../etc/passwd", `C:\x\<script>.xy`, "")
	f.Add("...", "scan", strings.Repeat("long", 99))
	f.Fuzz(func(t *testing.T, a, b, c string) {
		seen := map[string]bool{}
		for _, name := range folderNames([]string{a, b, c, a}) {
			require.NoError(t, plainName(name))
			require.NotContains(t, name, "/")
			require.LessOrEqual(t, len(name), 110)
			require.True(t, filepath.IsLocal(name) && !strings.HasPrefix(name, "."), "%q", name)
			require.False(t, seen[strings.ToLower(name)], "%q", name)
			seen[strings.ToLower(name)] = true
		}
	})
}
