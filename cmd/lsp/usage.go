package main

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"narrowgauge/analysis"
)

// machineOptions are options of compilers and assemblers that people try, with the
// flag that says the same.
var machineOptions = []struct{ begins, flag string }{
	{"mcpu", "--cpu"}, {"march", "--arch"}, {"mfpu", "--fpu"}, {"mthumb", "--start-mode thumb"}, {"marm", "--start-mode arm"}, {"mimplicit-it", "--implicit-it"},
}

// flagError says what is wrong with a flag, and what may be meant.
func flagError(cmd *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	var empty *pflag.ValueRequiredError
	var wrong *pflag.InvalidValueError
	switch {
	case errors.As(err, &unknown):
		return unknownFlag(cmd, unknown)
	case errors.As(err, &empty):
		what := "a value"
		if name, _ := pflag.UnquoteUsage(empty.GetFlag()); name != "" && name != "string" && name != "stringArray" {
			what = name
		}
		return fmt.Errorf("--%s needs %s after it", empty.GetFlag().Name, what)
	case errors.As(err, &wrong) && wrong.GetFlag().Value.Type() == "stringToInt64":
		return fmt.Errorf("--%s: %q is no name with a whole number, as in .text=16384", wrong.GetFlag().Name, wrong.GetValue())
	case errors.As(err, &wrong):
		return fmt.Errorf("--%s: %q is not known here; it can be true or false", wrong.GetFlag().Name, wrong.GetValue())
	}
	return err
}

func unknownFlag(cmd *cobra.Command, err *pflag.NotExistError) error {
	given := "--" + err.GetSpecifiedName()
	short := err.GetSpecifiedShortnames()
	if short != "" {
		// Of -hints the library has taken -h already.
		for _, arg := range os.Args[1:] {
			if strings.HasPrefix(arg, "-") && strings.HasSuffix(arg, short) && !strings.HasPrefix(arg, "--") {
				short = arg[1:]
				break
			}
		}
		given = "-" + short
		for _, o := range machineOptions {
			if strings.HasPrefix(short, o.begins) && cmd.Flags().Lookup(strings.Fields(o.flag)[0][2:]) != nil {
				return fmt.Errorf("there is no option %s; %s says that here", given, o.flag)
			}
		}
	}
	var names []string
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden {
			names = append(names, f.Name)
		}
	})
	if cmd.Name() == "explain" && short != "" && short[0] >= '0' && short[0] <= '9' {
		return fmt.Errorf("a negative number is written after --, as in explain -- %s", given)
	}
	if at := commandsWith(cmd, err.GetSpecifiedName()); !cmd.HasParent() && short == "" && len(at) > 0 {
		return fmt.Errorf("%s is an option of %s, and is written after that name", given, inWords(at))
	}
	name := err.GetSpecifiedName()
	if len(short) > 1 {
		name = short // as -hints for --hints
	}
	if near := analysis.Near(name, names); len(near) > 0 {
		return fmt.Errorf("there is no option %s; similar names: --%s", given, strings.Join(near, ", --"))
	}
	return fmt.Errorf("there is no option %s; %q lists those that there are", given, cmd.CommandPath()+" --help")
}

// inWords lists words as in a, b and c.
func inWords(list []string) string {
	n := len(list) - 1
	if n < 1 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:n], ", ") + " and " + list[n]
}

// commandsWith lists the commands below one that have a flag.
func commandsWith(cmd *cobra.Command, flag string) (out []string) {
	for _, c := range cmd.Commands() {
		if c.Flags().Lookup(flag) != nil {
			out = append(out, c.Name())
		}
	}
	return out
}

// helpful has the library's own commands, help and completion, refuse what they do not know.
func helpful(root *cobra.Command) {
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		switch c.Name() {
		case "help":
			c.Run = nil
			c.RunE = func(_ *cobra.Command, args []string) error {
				to, rest, err := root.Find(args)
				if err != nil || len(rest) > 0 {
					return unknownCommand(root, append(rest, args...)[0])
				}
				return to.Help()
			}
		case "completion":
			var shells []string
			for _, s := range c.Commands() {
				shells = append(shells, s.Name())
			}
			c.Args = cobra.ArbitraryArgs
			c.RunE = func(c *cobra.Command, args []string) error {
				if len(args) > 0 {
					return fmt.Errorf("there is no completion for %q; it is there for %s", args[0], strings.Join(shells, ", "))
				}
				return c.Help()
			}
		}
	}
}

// noArgs is for commands that take no argument.
func noArgs(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	return fmt.Errorf("%s takes no argument, and here is %q", cmd.Name(), args[0])
}

// unknownCommand says what may be meant by a word that is no command.
func unknownCommand(cmd *cobra.Command, word string) error {
	if word == "" {
		return errors.New("the command is an empty word; \"narrowgauge help\" lists the commands")
	}
	if _, err := os.Stat(word); err == nil {
		return fmt.Errorf("unknown command %q; \"narrowgauge check %s\" checks that file or folder", word, paths([]string{word}))
	}
	var names []string
	for _, c := range cmd.Commands() {
		names = append(names, c.Name())
	}
	near := cmd.SuggestionsFor(word)
	for _, name := range analysis.Near(word, names) {
		if !slices.Contains(near, name) {
			near = append(near, name)
		}
	}
	if len(near) > 0 {
		return fmt.Errorf("unknown command %q; similar: %s?", word, strings.Join(near, " or "))
	}
	return fmt.Errorf("unknown command %q; \"narrowgauge help\" lists the commands", word)
}
