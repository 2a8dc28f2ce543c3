package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"
	"go.uber.org/zap"
	"go.uber.org/zap/zapcore"

	"narrowgauge/analysis"
	"narrowgauge/server"
	"narrowgauge/server/pages"
	_ "narrowgauge/server/pages/early" // it has the program mapped
)

func main() { os.Exit(run()) }

// console is standard output, which remembers that something could not be written: nobody has
// seen it, whatever the command says.
type console struct {
	file   *os.File
	failed error
}

func (c *console) Write(data []byte) (int, error) {
	n, err := c.file.Write(data)
	if err != nil {
		err = fmt.Errorf("standard output: %w", bare(err))
		if c.failed == nil {
			c.failed = err
		}
	}
	return n, err
}

// Fd is the descriptor, as of an [os.File].
func (c *console) Fd() uintptr { return c.file.Fd() }

// exitCode is an error that only sets the exit code; what there is to say
// has been said.
type exitCode int

func (e exitCode) Error() string { return fmt.Sprintf("exit code %d", int(e)) }

func run() int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	cmd, reads := commandFor(os.Args[1:])
	err := enoughFiles()
	if err == nil && reads {
		tuneOneShot()
		pages.Fresh()
		analysis.Prepare()
	}
	out := &console{file: os.Stdout}
	cmd.SetOut(out)
	if err == nil {
		err = cmd.ExecuteContext(ctx)
	}
	var code exitCode
	if out.failed != nil && (err == nil || errors.As(err, &code)) {
		err = out.failed
	}
	switch {
	case err == nil:
		return 0
	case errors.As(err, &code):
		return int(code)
	}
	complain(cmd.ErrOrStderr(), err)
	return 2
}

// complain prints an error, each of its lines on a line of its own. What it quotes,
// of files, settings and paths, cannot steer the terminal.
func complain(w io.Writer, err error) {
	said := map[string]bool{}
	for line := range strings.SplitSeq(err.Error(), "\n") {
		if said[line] {
			continue // many sources may have one project file
		}
		said[line] = true
		fmt.Fprintf(w, "narrowgauge: %s\n", clean(line))
	}
}

func rootCommand() *cobra.Command {
	root := bareRoot()
	for _, c := range commands {
		root.AddCommand(c.make())
	}
	helpful(root)
	for _, cmd := range root.Commands() {
		completeFlags(cmd)
	}
	return root
}

// commands make what a command line begins with.
var commands = []struct {
	name  string
	make  func() *cobra.Command
	reads bool // it reads sources, and ends
}{
	{"serve", serveCommand, false}, {"check", checkCommand, true}, {"fix", fixCommand, true}, {"format", formatCommand, true}, {"layout", layoutCommand, true},
	{"explain", explainCommand, false}, {"schema", schemaCommand, false}, {"manual", manualCommand, false}, {"init", initCommand, true}, {"doctor", doctorCommand, true},
	{"version", versionCommand, false},
}

// commandFor is the root for a command line, and whether it reads sources and ends: one that
// begins with the name of a command needs no other. To make them all takes longer than to check a
// short source.
func commandFor(args []string) (root *cobra.Command, reads bool) {
	for _, c := range commands {
		if len(args) == 0 || args[0] != c.name {
			continue
		}
		root = bareRoot()
		root.CompletionOptions.DisableDefaultCmd = true
		root.SetHelpCommand(&cobra.Command{Hidden: true})
		root.AddCommand(c.make())
		return root, c.reads
	}
	return rootCommand(), false
}

func serveCommand() *cobra.Command {
	var serve serveOptions
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Serve an editor over standard input and output (the default)",
		Args:  noArgs,
		RunE:  func(cmd *cobra.Command, _ []string) error { return serve.run(cmd) },
	}
	serve.flags(cmd)
	return cmd
}

func versionCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print the version",
		Args:  noArgs,
		Run: func(cmd *cobra.Command, _ []string) {
			fmt.Fprint(cmd.OutOrStdout(), versionText())
		},
	}
}

// bareRoot is what the program does without a command, and what commands are added to.
func bareRoot() *cobra.Command {
	var serve serveOptions
	root := &cobra.Command{
		Use:   "narrowgauge",
		Short: "Language server and checker for hand-written T16, Thumb and A32 assembly",
		Long: `narrowgauge checks hand-written assembly for small 32-bit RISC cores.
Without a command it serves an editor over standard input and output.`,
		Args:          cobra.ArbitraryArgs,
		SilenceUsage:  true,
		SilenceErrors: true,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return unknownCommand(cmd, args[0])
			}
			return serve.run(cmd)
		},
	}
	root.Version = version()
	root.SetVersionTemplate(versionText())
	root.SuggestionsMinimumDistance = 2
	root.SetFlagErrorFunc(flagError)
	serve.flags(root)
	return root
}

// versionText is what is said of the version.
func versionText() string {
	return fmt.Sprintf("narrowgauge %s (%s %s/%s)\n", version(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
}

// version is the module's version, or the commit of a build from a checkout.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			return "devel-" + s.Value[:12]
		}
	}
	return "devel"
}

type serveOptions struct {
	log   string
	debug bool
	stdio bool
}

func (o *serveOptions) flags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&o.log, "log", "", "write the log to `FILE` instead of standard error")
	cmd.Flags().BoolVar(&o.debug, "debug", false, "log in detail")
	cmd.Flags().BoolVar(&o.stdio, "stdio", true, "serve over standard input and output, which is the only way")
	_ = cmd.Flags().MarkHidden("stdio") // some editors pass it unasked
}

func (o *serveOptions) run(cmd *cobra.Command) error {
	var sink io.Writer = os.Stderr
	if o.log != "" {
		f, err := os.OpenFile(o.log, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
		if err != nil {
			return fmt.Errorf("--log: %s cannot be written (%w)", o.log, bare(err))
		}
		defer f.Close()
		sink = f
	}
	level := zapcore.InfoLevel
	if o.debug {
		level = zapcore.DebugLevel
	}
	conf := zap.NewProductionEncoderConfig()
	conf.EncodeTime = zapcore.ISO8601TimeEncoder
	log := zap.New(zapcore.NewCore(zapcore.NewConsoleEncoder(conf), zapcore.Lock(zapcore.AddSync(sink)), level))
	defer func() { _ = log.Sync() }()
	if isTerminal(os.Stdin) {
		fmt.Fprintln(os.Stderr, "narrowgauge: waiting for an editor on standard input; \"narrowgauge help\" lists the other commands")
	}
	ignorePipes()
	debug.SetMemoryLimit(maxMemory) // near it, collect more often
	pages.Grow(maxGrowth)
	memory := newPace()
	defer memory.ended.Store(true)
	code := server.Serve(cmd.Context(), os.Stdin, os.Stdout, server.Options{Log: log, Version: version(), Rest: memory.rest, Largest: memory.largest})
	if code != 0 {
		return exitCode(code)
	}
	return nil
}
