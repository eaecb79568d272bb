package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"phasetally/plots/page"
	"phasetally/refdata/library"
	"phasetally/xrd/calibrate"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
)

// recognise says what a file that was dropped on the page is for, by reading it as each kind of file it could be.
func recognise(ctx context.Context, name string) (page.Kind, string, error) {
	if strings.EqualFold(filepath.Ext(name), ".toml") {
		return recogniseInstrument(name)
	}
	read, notScan := loadScan(name)
	if notScan == nil {
		lo, hi := read.Range()
		return page.KindScan, fmt.Sprintf("a scan of %d points, %.4g° to %.4g° 2θ", read.Len(), lo, hi), nil
	}
	lib, problems, notReference := library.FromFiles(ctx, name)
	if notReference == nil {
		words := fmt.Sprintf("reference data of %d phases", lib.Len())
		if lib.Len() == 1 {
			words = "reference data of " + lib.Entry(0).Name
		}
		for _, p := range problems {
			words += "; " + p.String()
		}
		return page.KindReference, words, lib.Close()
	}
	if own, err := ownPreparations(name); err == nil {
		return page.KindPreparation, fmt.Sprintf("%d preparation materials; choose the table under What you know", len(own)), nil
	}
	if ctx.Err() != nil {
		return "", "", ctx.Err()
	}
	if strings.EqualFold(filepath.Ext(name), ".cif") && len(problems) > 0 {
		return "", "", errors.New(problems[0].String())
	}
	return "", "", fmt.Errorf("%w; it was read as a scan and, in vain, as reference data and as an instrument file", notScan)
}

func recogniseInstrument(name string) (page.Kind, string, error) {
	f, err := os.Open(name)
	if err != nil {
		return "", "", err
	}
	defer f.Close()
	if _, _, err := calibrate.ReadInstrument(f, name); err != nil {
		return "", "", err
	}
	return page.KindInstrument, "an instrument file; choose it under What you know", nil
}

// savePage writes the result folder of a scan as analyse does.
func savePage(scan string, r result.Analysis, replace bool) (string, error) {
	folder := folderFor(scan)
	files, err := draw(r)
	if err != nil {
		return "", failure{err}
	}
	return folder, resultfile.Write(folder, r, files, resultfile.Options{Force: replace})
}
