package main

import (
	"os/exec"
	"runtime"
)

// browse opens an address in the browser of the desktop.
func browse(address string) error {
	command := map[string][]string{"darwin": {"open"}, "windows": {"rundll32", "url.dll,FileProtocolHandler"}}[runtime.GOOS]
	if command == nil {
		command = []string{"xdg-open"}
	}
	program := exec.Command(command[0], append(command[1:], address)...)
	if err := program.Start(); err != nil {
		return err
	}
	go func() { _ = program.Wait() }()
	return nil
}
