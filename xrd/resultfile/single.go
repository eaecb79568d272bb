package resultfile

import (
	"fmt"

	"github.com/google/renameio/v2"
)

// WriteFile writes one file so that under its name there is afterwards either what was there before or all of the new
// content.
func WriteFile(name string, content []byte) error {
	if err := renameio.WriteFile(name, content, 0o644); err != nil {
		return fmt.Errorf("%s: %w; check the folder and your permission there", name, err)
	}
	return nil
}
