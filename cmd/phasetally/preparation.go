package main

import (
	"fmt"
	"os"

	"phasetally/refdata"
)

// ownPreparations reads a user's own table; nil for none.
func ownPreparations(name string) ([]refdata.Preparation, error) {
	if name == "" {
		return nil, nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("--preparation: %w", noFile(err))
	}
	defer f.Close()
	own, err := refdata.ReadPreparations(f, name)
	if err != nil {
		return nil, fmt.Errorf("--preparation: %w", err)
	}
	return own, nil
}
