package main

import (
	"bytes"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

// TestManual holds that the manual page, which "narrowgauge manual" prints, has what the
// commands say of themselves; -update writes it. It is in the form that man(7) reads.
func TestManual(t *testing.T) {
	const path = "narrowgauge.1"
	got := manualOf(t)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if got != manualPage {
		t.Errorf("%s is stale: go test ./cmd/lsp -run TestManual -update", path)
	}
	if out := output(t, ".", "manual"); out != manualPage {
		t.Error("the command prints another page")
	}
	for _, c := range rootCommand().Commands() {
		if c.IsAvailableCommand() && !strings.Contains(got, ".SH narrowgauge "+c.Name()+"\n") {
			t.Errorf("the page does not have %s", c.Name())
		}
	}
	for _, option := range []string{"--stdin-path", "--cpu", "--summary", "--undo", "--log"} {
		if !strings.Contains(strings.ReplaceAll(got, `\-`, "-"), option) {
			t.Errorf("the page does not have %s", option)
		}
	}
	if strings.Contains(got, "HISTORY") || strings.Contains(got, "SEE ALSO") {
		t.Error("there is what the library adds and a page of its own does not need")
	}
}

// manualOf makes one page of those that the library makes of the commands.
func manualOf(t *testing.T) string {
	root := rootCommand()
	var page strings.Builder
	page.WriteString(manPage(t, root))
	for _, c := range root.Commands() {
		if !c.IsAvailableCommand() || c.Name() == "help" {
			continue
		}
		text := manPage(t, c)
		_, text, _ = strings.Cut(text, ".SH SYNOPSIS\n")
		text = ".SS SYNOPSIS\n" + strings.ReplaceAll(text, "\n.SH ", "\n.SS ")
		page.WriteString(".SH narrowgauge " + c.Name() + "\n" + c.Short + ".\n\n" + text)
	}
	return page.String()
}

// parents are the options of the commands above, which repeat themselves.
var parents = regexp.MustCompile(`(?s)\n\.SH OPTIONS INHERITED.*?(\n\.SH |$)`)

// manPage is the library's page of one command, without what refers to others.
func manPage(t *testing.T, c *cobra.Command) string {
	c.DisableAutoGenTag = true
	c.InitDefaultHelpCmd()
	var b bytes.Buffer
	date := time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)
	if err := doc.GenMan(c, &doc.GenManHeader{Title: "NARROWGAUGE", Section: "1", Date: &date, Source: "narrowgauge", Manual: "narrowgauge"}, &b); err != nil {
		t.Fatal(err)
	}
	text := parents.ReplaceAllString(b.String(), "$1")
	text, _, _ = strings.Cut(text, "\n.SH SEE ALSO")
	// What an option is without being given says nothing here.
	text = strings.NewReplacer("[=false]", "", "[=true]", "", `=""`, "", "=[]", "").Replace(text)
	return strings.TrimRight(text, "\n") + "\n\n"
}
