package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// givenArgs is under what key the context of a command has the arguments of the program.
type givenArgs struct{}

// checked makes a command tell all that is wrong with its flags in one run: beside values that a flag does not take, what check finds,
// which is what the command looks at before it begins.
func checked(c *cobra.Command, check func(c *cobra.Command, names []string) error) {
	c.SetFlagErrorFunc(func(c *cobra.Command, err error) error { return flagTroubles(c, err, check) })
}

// flagTrouble is for commands that have nothing to check beside.
func flagTrouble(c *cobra.Command, err error) error { return flagTroubles(c, err, nil) }

// flagTroubles goes through the arguments anew: the command library stops at the first that is wrong, and tells only that.
func flagTroubles(c *cobra.Command, first error, check func(c *cobra.Command, names []string) error) error {
	var args []string
	if c.Context() != nil {
		given, _ := c.Context().Value(givenArgs{}).([]string)
		_, args, _ = c.Root().Find(given)
	}
	if k := slices.IndexFunc(args, func(a string) bool { return !strings.HasPrefix(a, "-") }); k == 0 && c.HasSubCommands() { // its flags are unknown, too
		return knownCommand(c, args)
	}
	var wrong troubles
	asGiven, err := true, error(nil)
	forget(c.Flags())
	for range args { // each round ends the arguments, or leaves one of them out
		err = c.Flags().ParseAll(args, func(f *pflag.Flag, value string) error {
			wrong.note(inWords(c, c.Flags().Set(f.Name, value)))
			return nil
		})
		var unknown *pflag.NotExistError
		if !errors.As(err, &unknown) || unknown.GetSpecifiedShortnames() != "" {
			break
		}
		asGiven = false
		wrong.note(inWords(c, err))
		forget(c.Flags())
		name := "--" + unknown.GetSpecifiedName()
		args = slices.DeleteFunc(slices.Clone(args), func(a string) bool { return a == name || strings.HasPrefix(a, name+"=") })
	}
	wrong.note(inWords(c, err))
	if len(wrong) == 0 {
		return inWords(c, first)
	}
	if check == nil || !asGiven || err != nil { // what follows an unknown flag may be its value or a name
		return wrong.err()
	}
	names := c.Flags().Args()
	if err := c.ValidateArgs(names); err != nil {
		wrong.note(err)
		return wrong.err()
	}
	wrong.note(check(c, names))
	return wrong.err()
}

// forget puts all flags where they were before they were read.
func forget(flags *pflag.FlagSet) {
	flags.VisitAll(func(f *pflag.Flag) {
		if list, ok := f.Value.(pflag.SliceValue); ok {
			_ = list.Replace(nil) // no list begins with something in it
		} else {
			_ = f.Value.Set(f.DefValue)
		}
		f.Changed = false
	})
}

// inWords says what a flag takes, in words of the user's, and where flags are listed.
func inWords(c *cobra.Command, err error) error {
	if err == nil {
		return nil
	}
	var bad *pflag.InvalidValueError
	if errors.As(err, &bad) {
		wants := map[string]string{"float64": "a number, with a decimal point", "int": "a whole number", "uint64": "a whole number, 0 or more", "bool": "true or false",
			"stringSlice": "values with commas between them, without quotes"}
		if want, ok := wants[bad.GetFlag().Value.Type()]; ok {
			return fmt.Errorf("--%s %.40q: give %s", bad.GetFlag().Name, bad.GetValue(), want)
		}
	}
	return fmt.Errorf("%w;%s '%s --help' lists the flags", err, flagOfOthers(c, err), c.CommandPath())
}

// flagOfOthers says which other commands have a flag that a command lacks; "" for none.
func flagOfOthers(c *cobra.Command, err error) string {
	var unknown *pflag.NotExistError
	if !errors.As(err, &unknown) || unknown.GetSpecifiedShortnames() != "" {
		return ""
	}
	var have []string
	for _, other := range c.Root().Commands() {
		if other.Flags().Lookup(unknown.GetSpecifiedName()) != nil && !other.Hidden {
			have = append(have, other.Name())
		}
	}
	if len(have) == 0 {
		return ""
	}
	return " it is a flag of " + strings.Join(have, ", ") + ";"
}

// withArgs keeps the arguments of the program for flagTroubles.
func withArgs(ctx context.Context, args []string) context.Context {
	return context.WithValue(ctx, givenArgs{}, args)
}
