package main

import (
	"fmt"
	"os"

	"phasetally/xrd"
	"phasetally/xrd/calibrate"
)

// loadInstrument returns the instrument that --instrument names, or that of an ordinary laboratory.
func (o *options) loadInstrument() (xrd.Instrument, error) {
	if o.instrument == "" {
		return xrd.DefaultInstrument(), nil
	}
	f, err := os.Open(o.instrument)
	if err != nil {
		return xrd.Instrument{}, fmt.Errorf("--instrument: %w; check the name", err)
	}
	defer f.Close()
	ins, _, err := calibrate.ReadInstrument(f, o.instrument)
	return ins, err
}
