package server

import (
	"bufio"
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"narrowgauge/isa/reftest"
)

// soaker is one client of a soak test: an editor that opens, edits and closes documents,
// asks, and now and then dies in the middle of a message.
type soaker struct {
	t    *testing.T
	rand *rand.Rand
	// chance decides what is asked, and leaves what is written as it would be without.
	chance *rand.Rand
	dirs   []string // of all clients

	in      io.WriteCloser
	end     func()
	waiting sync.Map // the questions, by their id
	next    int
	open    map[string]opened // by URI
	seen    *latencies
	slots   *slots // for all: a process of its own each would have processors of its own, or wait for them outside
}

// opened is what a client has sent of a document.
type opened struct{ version, size int }

// waitingFor is a question that a client has put.
type waitingFor struct {
	at     time.Time
	method string
	size   int  // of its document, as it was sent
	others int  // of all clients, that wait as well
	put    bool // somebody waits for just this
	// How long the server took until its analysis was there, and until it was made; before that it
	// waits to be read, and after it to be written.
	analysed, made time.Duration
}

// latencies are how long answers took.
type latencies struct {
	mu      sync.Mutex
	waiting int
	slowest []slow // the longest first
	count   int
	over    int // more than a second
	overPut int // of these, of questions that somebody has put himself
	moved   int // that the document has changed meanwhile
	busy    int // that it is still being read
}

type slow struct {
	waitingFor
	took time.Duration
}

func (s slow) String() string {
	return fmt.Sprintf("%s of %d kB beside %d others: %d ms, made after %d, its analysis after %d", s.method, s.size>>10, s.others, s.took.Milliseconds(), s.made.Milliseconds(), s.analysed.Milliseconds())
}

func (l *latencies) put() (others int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.waiting++
	return l.waiting - 1
}

// left takes questions away that nobody answers any more.
func (l *latencies) left(n int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.waiting -= n
}

func (l *latencies) add(q waitingFor, err *wireError) {
	d := time.Since(q.at)
	l.mu.Lock()
	defer l.mu.Unlock()
	l.waiting--
	l.count++
	switch {
	case err == nil || err.Code != -32801:
	case err.Message == errBusy.Error():
		l.busy++
	default:
		l.moved++
	}
	l.slowest = append(l.slowest, slow{q, d})
	slices.SortStableFunc(l.slowest, func(a, b slow) int { return cmp.Compare(b.took, a.took) })
	l.slowest = l.slowest[:min(len(l.slowest), 12)]
	if d > time.Second {
		l.over++
		if q.put {
			l.overPut++
		}
	}
}

// connect starts a session of its own.
func (s *soaker) connect(log string) {
	inR, inW := io.Pipe()
	outR, outW := io.Pipe()
	ctx, cancel := context.WithCancel(context.Background())
	done, read := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		Serve(ctx, inR, outW, Options{CacheDir: log, slots: s.slots, answers: func(id string, analysed, made time.Duration) {
			if q, ok := s.waiting.Load(id); ok {
				q := q.(waitingFor)
				q.analysed, q.made = analysed, made
				s.waiting.Store(id, q)
			}
		}})
		outW.Close()
	}()
	go func() {
		defer close(read)
		s.read(bufio.NewReader(outR))
	}()
	s.in, s.open = inW, map[string]opened{}
	s.end = func() {
		cancel()
		inW.Close()
		outR.Close()
		<-done
		<-read
		n := 0
		s.waiting.Range(func(_, _ any) bool { n++; return true })
		s.waiting.Clear()
		s.seen.left(n)
	}
	s.ask("initialize", 0, obj{"processId": nil, "rootUri": fileURI(s.dirs[s.rand.IntN(len(s.dirs))]), "capabilities": allCaps()})
	s.tell("initialized", obj{})
}

func (s *soaker) read(in *bufio.Reader) {
	for {
		body, err := unframed(in)
		if err != nil {
			return
		}
		var m incoming
		if err := json.Unmarshal(body, &m); err != nil {
			s.t.Errorf("not a message: %s", body)
			return
		}
		if m.Error != nil && (m.Error.Code == -32603 || strings.Contains(m.Error.Message, "internal")) {
			s.t.Errorf("error %d %s", m.Error.Code, m.Error.Message)
		}
		if q, ok := s.waiting.LoadAndDelete(string(m.ID)); ok && m.Method == "" {
			s.seen.add(q.(waitingFor), m.Error)
		}
	}
}

func (s *soaker) write(text string) { _, _ = io.WriteString(s.in, text) }

func (s *soaker) tell(method string, params any) {
	body, _ := json.Marshal(obj{"jsonrpc": "2.0", "method": method, "params": params})
	s.write(frame(string(body)))
}

func (s *soaker) ask(method string, size int, params any) {
	s.next++
	body, _ := json.Marshal(obj{"jsonrpc": "2.0", "id": s.next, "method": method, "params": params})
	s.waiting.Store(fmt.Sprint(s.next), waitingFor{at: time.Now(), method: method, size: size, others: s.seen.put(), put: unhurried[method] || strings.Contains(string(body), `"triggerKind":1`)})
	s.write(frame(string(body)))
}

// lines are what the clients write.
var soakLines = []string{
	"\tmovs r0, #300", "\tadds r0, r0, #1", "\tldr r0, =LAMPS", "\tbeq far", "\tb l1", "l1:", "far:", "\t.include \"lamps.inc\"", "\t.include \"no.inc\"", "\tbl signal",
	"\t.rept 3000", "\t.endr", "\t.macro m a", "\tm \\a \\a", "\t.endm", "\tm 1", "#define A A A", "#define B(x) x x", "A B(B(B(1)))", "#include \"points.h\"", "\t.if 1", "\t.endif",
	"\t.space 0x7fffffff", "\t.word l1 - far", "\"", "/*", "*/", "\x00\xff", "\t.incbin \"/etc/passwd\"", "\tpush {r4-r7, lr}", "\tpop {r4-r7, pc}", "\t.thumb_func", "\tldrb r0, [r1, #200]",
	strings.Repeat("nop;", 1000), strings.Repeat("(", 1000), ".byte " + strings.Repeat("1,", 5000),
}

func (s *soaker) text() string {
	var b strings.Builder
	b.WriteString("\t.syntax unified\n\t.thumb\n")
	for range s.rand.IntN(60) {
		b.WriteString(soakLines[s.rand.IntN(len(soakLines))] + "\n")
	}
	return b.String()
}

// file is the path of one of the documents.
func (s *soaker) file() string {
	names := []string{"a.s", "b.S", "c.s", "lamps.inc", "points.h", "deep/d.s", "e.asm"}
	return filepath.Join(s.dirs[s.rand.IntN(len(s.dirs))], names[s.rand.IntN(len(names))])
}

// step is one thing that an editor, or somebody beside it, does.
func (s *soaker) step() {
	path := s.file()
	uri := fileURI(path)
	doc, isOpen := s.open[uri]
	here := obj{"textDocument": obj{"uri": uri}, "position": pos(s.rand.IntN(30), s.rand.IntN(10))}
	switch k := s.rand.IntN(100); {
	case !isOpen && k < 60 && len(s.open) < 12:
		text := s.text()
		s.open[uri] = opened{1, len(text)}
		s.tell("textDocument/didOpen", obj{"textDocument": obj{"uri": uri, "languageId": "asm", "version": 1, "text": text}})
	case isOpen && k < 40:
		line, text := s.rand.IntN(30), soakLines[s.rand.IntN(len(soakLines))]+"\n"
		s.open[uri] = opened{doc.version + 1, doc.size + len(text)}
		s.tell("textDocument/didChange", obj{"textDocument": obj{"uri": uri, "version": doc.version + 1},
			"contentChanges": []obj{{"range": rng(line, 0, line+s.rand.IntN(3), s.rand.IntN(5)), "text": text}}})
	case isOpen && k < 45:
		text := s.text()
		s.open[uri] = opened{doc.version + 1, len(text)}
		s.tell("textDocument/didChange", obj{"textDocument": obj{"uri": uri, "version": doc.version + 1}, "contentChanges": []obj{{"text": text}}})
	case isOpen && k < 50:
		delete(s.open, uri)
		s.tell("textDocument/didClose", obj{"textDocument": obj{"uri": uri}})
	case k < 60:
		s.ask("textDocument/hover", doc.size, here)
	case k < 64:
		s.ask("textDocument/definition", doc.size, here)
	case k < 68:
		s.ask("textDocument/documentSymbol", doc.size, obj{"textDocument": obj{"uri": uri}})
	case k < 76:
		s.ask("textDocument/codeAction", doc.size, obj{"textDocument": obj{"uri": uri}, "range": rng(0, 0, s.rand.IntN(20), 0), "context": []obj{{}, {"triggerKind": 1}, {"triggerKind": 2}}[s.chance.IntN(3)]})
	case k < 80:
		s.tell("$/cancelRequest", obj{"id": s.next})
	case k < 88: // a file comes or goes
		if s.rand.IntN(2) == 0 {
			_ = os.Remove(path)
		} else {
			_ = os.WriteFile(path, []byte(s.text()), 0o644)
		}
		s.tell("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": uri, "type": 2}}})
	case k < 90:
		s.tell("textDocument/didSave", obj{"textDocument": obj{"uri": uri}})
	case k < 92:
		s.tell("workspace/didChangeConfiguration", obj{"settings": obj{"cpu": []string{"cortex-m0", "cortex-m3", "none"}[s.rand.IntN(3)]}})
	case k < 93:
		name := filepath.Join(filepath.Dir(path), []string{"narrowgauge.json", "compile_commands.json"}[s.rand.IntN(2)])
		_ = os.WriteFile(name, []byte([]string{"{", "{}", "[]", `{"include":["/"]}`, `[{"directory":".","file":"a.s","command":"as -I/ a.s"}]`}[s.rand.IntN(5)]), 0o644)
	case k < 95:
		s.write([]string{"Content-Length: 3\r\n\r\n{]}", "Content-Length: 2\r\n\r\n[]", frame("null"), frame(`{"jsonrpc":"2.0","id":{},"method":"x"}`)}[s.rand.IntN(4)])
	default:
		s.inquire(uri, doc.size)
	}
}

// inquire asks what takes other sources or a whole file, and what asks while something is typed.
func (s *soaker) inquire(uri string, size int) {
	document := obj{"uri": uri}
	here := obj{"textDocument": document, "position": pos(s.chance.IntN(30), s.chance.IntN(10))}
	switch s.chance.IntN(5) {
	case 0:
		here["context"] = obj{"includeDeclaration": true}
		s.ask("textDocument/references", size, here)
	case 1:
		s.ask("textDocument/prepareRename", size, here)
	case 2:
		here["newName"] = []string{"lamp", "l1", "r0", "1:"}[s.chance.IntN(4)]
		s.ask("textDocument/rename", size, here)
	case 3:
		s.ask("textDocument/formatting", size, obj{"textDocument": document, "options": obj{"tabSize": 8, "insertSpaces": false}})
	case 4:
		s.ask("textDocument/completion", size, here)
	}
}

// TestSoak lets eight clients work for ten seconds, or as long as a variable says. There
// is no crash, no error of the server's own, no deadlock, and no memory that grows.
func TestSoak(t *testing.T) {
	long := reftest.Soak(10 * time.Second)
	if testing.Short() {
		long = min(long, time.Second)
	}
	proof := reftest.Begin(t)
	base := t.TempDir()
	var dirs []string
	for i := range 4 {
		dir := filepath.Join(base, fmt.Sprintf("box%d", i))
		if err := os.MkdirAll(filepath.Join(dir, "deep"), 0o755); err != nil {
			t.Fatal(err)
		}
		dirs = append(dirs, dir)
	}
	seen, slots := &latencies{}, newSlots()
	stop := make(chan struct{})
	var wg sync.WaitGroup
	var mu sync.Mutex
	sessions, steps := 0, 0
	for i := range 8 {
		s := &soaker{t: t, rand: rand.New(rand.NewPCG(uint64(i), 12)), chance: rand.New(rand.NewPCG(uint64(i), 14)), dirs: dirs, seen: seen, slots: slots}
		wg.Go(func() {
			for {
				s.connect(filepath.Join(base, "cache"))
				n := 0
				for turns := 200 + s.rand.IntN(2000); n < turns; n++ {
					select {
					case <-stop:
						turns = 0
					default:
						s.step()
						time.Sleep(time.Duration(s.rand.IntN(8)) * time.Millisecond)
					}
				}
				if s.rand.IntN(2) == 0 {
					s.write("Content-Length: 1000\r\n\r\n{\"json") // it dies
				} else {
					s.ask("shutdown", 0, nil)
					s.tell("exit", nil)
				}
				s.end()
				mu.Lock()
				sessions, steps = sessions+1, steps+n
				mu.Unlock()
				select {
				case <-stop:
					return
				default:
				}
			}
		})
	}
	var heaps []int
	start := time.Now()
	for len(heaps) < 5 || time.Since(start) < long {
		time.Sleep(long / 40)
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		heaps = append(heaps, int(m.HeapAlloc))
	}
	close(stop)
	ended := make(chan struct{})
	go func() { wg.Wait(); close(ended) }()
	select {
	case <-ended:
	case <-time.After(5 * patience):
		buf := make([]byte, 1<<20)
		t.Fatalf("the sessions do not end\n%s", buf[:runtime.Stack(buf, true)])
	}
	// After a warm-up, the second half takes no more than the first.
	n := len(heaps)
	first, second := median(heaps[n/5:n*3/5]), median(heaps[n*3/5:])
	if long >= time.Minute && second > first*3/2+32<<20 {
		t.Errorf("memory grows: %d MB, later %d MB", first>>20, second>>20)
	}
	if most := slices.Max(heaps); most > 1<<30 {
		t.Errorf("%d MB of memory are in use", most>>20)
	}
	goroutines := runtime.NumGoroutine()
	for wait := time.Now(); goroutines > 30 && time.Since(wait) < patience; goroutines = runtime.NumGoroutine() {
		time.Sleep(50 * time.Millisecond)
	}
	if goroutines > 30 {
		t.Errorf("%d goroutines are left", goroutines)
	}
	proof.Counted("sessions: %d, steps: %d, answers: %d (%d given up, %d of texts that changed), slowest %d ms, over a second: %d (%d that somebody waits for); memory %d MB, later %d MB, most %d MB; %d goroutines left",
		sessions, steps, seen.count, seen.busy, seen.moved, seen.slowest[0].took.Milliseconds(), seen.over, seen.overPut, first>>20, second>>20, slices.Max(heaps)>>20, goroutines)
	for _, s := range seen.slowest {
		t.Log(s)
	}
}

func median(list []int) int {
	list = slices.Sorted(slices.Values(list))
	return list[len(list)/2]
}
