package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/textproto"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// built is the program.
func built(b *testing.B) string {
	b.Helper()
	program := filepath.Join(b.TempDir(), "narrowgauge")
	reftest.Build(b, "../..", program)
	return program
}

// BenchmarkTyping types into a source that a server has open, as people do: lines letter by
// letter, comments, other numbers, lines taken away. It reports how long it takes from a
// keystroke to the findings of the text that it makes, in milliseconds: the middle of all, and
// what one in a hundred takes at least.
func BenchmarkTyping(b *testing.B) {
	program := built(b)
	for _, lines := range []int{10_000, 100_000} {
		for _, set := range []struct {
			name string
			text func(seed uint64, lines int) string
		}{{"T16", firmware.Text}, {"A32", firmware.A32}, {"T32", firmware.T32}} {
			b.Run(fmt.Sprintf("%s/%d", set.name, lines), func(b *testing.B) {
				t := newTypist(b, program, set.text(20, lines))
				for b.Loop() {
					t.some()
				}
				slices.Sort(t.took)
				b.ReportMetric(t.ms(50), "p50-ms")
				b.ReportMetric(t.ms(99), "p99-ms")
				b.ReportMetric(float64(len(t.took)), "keystrokes")
				b.ReportMetric(0, "ns/op")
			})
		}
	}
}

// BenchmarkAnswers asks for a hover, a definition and a completion after each letter that is
// typed into a source of 10,000 lines, without waiting for its findings: into a remark, which
// changes no meaning, and into a new line of code. It reports how long the answers of each kind
// take, in milliseconds.
func BenchmarkAnswers(b *testing.B) {
	program := built(b)
	for _, method := range []string{"hover", "definition", "completion"} {
		for _, kind := range []string{"remark", "code"} {
			b.Run(method+"/"+kind, func(b *testing.B) {
				t := newTypist(b, program, firmware.Text(20, 10_000))
				id := 1
				for b.Loop() {
					line := t.r.IntN(len(t.lines) - 1)
					for !strings.Contains(t.lines[line], "\tb") && !strings.Contains(t.lines[line], " b") {
						line = t.r.IntN(len(t.lines) - 1)
					}
					at, letters, into := len(t.lines[line]), " @ set", line
					if kind == "code" {
						t.change(line, at, at, "\n")
						letters, into = "\tadds\tr0, r0, #1", line+1
					}
					for _, c := range letters {
						n := len(t.lines[into])
						t.change(into, n, n, string(c))
						id++
						start := time.Now()
						t.send("textDocument/"+method, id, map[string]any{"textDocument": map[string]any{"uri": typedURI},
							"position": map[string]any{"line": line, "character": at}})
						want := json.Number(strconv.Itoa(id))
						t.until(func(m typedMessage) bool { return m.ID == want })
						t.took = append(t.took, time.Since(start))
					}
				}
				slices.Sort(t.took)
				b.ReportMetric(t.ms(50), "p50-ms")
				b.ReportMetric(t.ms(99), "p99-ms")
				b.ReportMetric(float64(len(t.took)), "answers")
				b.ReportMetric(0, "ns/op")
			})
		}
	}
}

// typist is somebody at an editor that has one source open.
type typist struct {
	b       *testing.B
	r       *rand.Rand
	lines   []string
	version int
	in      io.Writer
	out     *bufio.Reader
	took    []time.Duration
}

const typedURI = "file:///box/firmware.s"

func newTypist(b *testing.B, program, text string) *typist {
	b.Helper()
	cmd := exec.Command(program)
	in, err := cmd.StdinPipe()
	if err != nil {
		b.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		in.Close()
		cmd.Process.Kill()
		cmd.Wait()
	})
	t := &typist{b: b, r: rand.New(rand.NewPCG(20, 1)), lines: strings.Split(text, "\n"), in: in, out: bufio.NewReader(out)}
	t.send("initialize", 1, map[string]any{"processId": nil, "rootUri": nil, "capabilities": map[string]any{}})
	t.until(func(m typedMessage) bool { return m.ID == "1" })
	t.send("initialized", 0, map[string]any{})
	t.send("textDocument/didOpen", 0, map[string]any{"textDocument": map[string]any{"uri": typedURI, "languageId": "arm", "version": 0, "text": text}})
	t.until(t.said)
	return t
}

type typedMessage struct {
	ID     json.Number `json:"id"`
	Method string      `json:"method"`
	Params struct {
		Version *int `json:"version"`
	} `json:"params"`
}

// said tells the findings of the present text.
func (t *typist) said(m typedMessage) bool {
	return m.Method == "textDocument/publishDiagnostics" && (m.Params.Version == nil || *m.Params.Version == t.version)
}

func (t *typist) send(method string, id int, params any) {
	m := map[string]any{"jsonrpc": "2.0", "method": method, "params": params}
	if id > 0 {
		m["id"] = id
	}
	body, err := json.Marshal(m)
	if err != nil {
		t.b.Fatal(err)
	}
	if _, err := fmt.Fprintf(t.in, "Content-Length: %d\r\n\r\n%s", len(body), body); err != nil {
		t.b.Fatal(err)
	}
}

func (t *typist) until(enough func(typedMessage) bool) {
	for {
		head, err := textproto.NewReader(t.out).ReadMIMEHeader()
		if err != nil {
			t.b.Fatal(err)
		}
		n, _ := strconv.Atoi(head.Get("Content-Length"))
		body := make([]byte, n)
		if _, err := io.ReadFull(t.out, body); err != nil {
			t.b.Fatal(err)
		}
		var m typedMessage
		if json.Unmarshal(body, &m) == nil && enough(m) {
			return
		}
	}
}

// key replaces columns of a line, or a line end with word "\n", and waits for the findings.
func (t *typist) key(line, from, to int, word string) {
	start := time.Now()
	t.change(line, from, to, word)
	t.until(t.said)
	t.took = append(t.took, time.Since(start))
}

// change replaces columns of a line.
func (t *typist) change(line, from, to int, word string) {
	t.version++
	t.send("textDocument/didChange", 0, map[string]any{"textDocument": map[string]any{"uri": typedURI, "version": t.version},
		"contentChanges": []any{map[string]any{"text": word, "range": map[string]any{
			"start": map[string]any{"line": line, "character": from}, "end": map[string]any{"line": line, "character": to}}}}})
	l := t.lines[line]
	if word == "\n" {
		t.lines = slices.Insert(t.lines, line+1, l[to:])
		t.lines[line] = l[:from]
		return
	}
	t.lines[line] = l[:from] + word + l[to:]
}

func (t *typist) write(line int, text string) {
	for _, c := range text {
		n := len(t.lines[line])
		t.key(line, n, n, string(c))
	}
}

// some does one of the things that people do.
func (t *typist) some() {
	line := t.r.IntN(len(t.lines) - 1)
	switch t.r.IntN(4) {
	case 0: // a line of code
		n := len(t.lines[line])
		t.key(line, n, n, "\n")
		t.write(line+1, []string{"\tmovs\tr3, #17", "\tldrb\tr2, [r1, #3]", "\tadds\tr0, r0, r1", "\tbl\tsignal_red", "\tldr\tr4, =0x20000400", "\t.word\t25"}[t.r.IntN(6)])
	case 1: // a comment
		n := len(t.lines[line])
		t.key(line, n, n, "\n")
		t.write(line+1, "\t@ lamps of the second track")
	case 2: // another number
		for range 100 {
			if i := strings.LastIndexByte(t.lines[line], '#'); i >= 0 && i+1 < len(t.lines[line]) {
				t.key(line, i+1, i+2, strconv.Itoa(1+t.r.IntN(7)))
				t.key(line, i+1, i+2, "")
				t.key(line, i+1, i+1, strconv.Itoa(1+t.r.IntN(7)))
				return
			}
			line = t.r.IntN(len(t.lines) - 1)
		}
	case 3: // a remark behind a line, and most of it taken away
		t.write(line, "  @ checked")
		n := len(t.lines[line])
		t.key(line, n-6, n, "")
	}
}

func (t *typist) ms(percent int) float64 {
	return float64(t.took[len(t.took)*percent/100].Microseconds()) / 1000
}
