package server

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"testing"

	"go.lsp.dev/jsonrpc2"
)

const ping = `{"jsonrpc":"2.0","id":"ping","method":"ping"}`

// hostile lists what a client may send instead of a frame, and what the
// server answers: code and id of each error, in order.
var hostile = []struct {
	name, bytes string
	want        []string
}{
	{"nothing", "", nil},
	{"blank lines", "\r\n\r\n\n", nil},
	{"header in lower case", strings.ToLower("Content-Length: 45\r\n\r\n") + strings.Replace(ping, "ping", "same", 1), []string{`method ping "same"`}},
	{"newline only", "Content-Length: 45\n\n" + strings.Replace(ping, "ping", "same", 1), []string{`method ping "same"`}},
	{"other header", "Content-Type: application/vscode-jsonrpc; charset=utf-8\r\nX-Content-Length: 3\r\n" + frame(strings.Replace(ping, "ping", "same", 1)), []string{`method ping "same"`}},
	{"wrong charset", "Content-Type: application/vscode-jsonrpc; charset=latin1\r\n" + frame(`{}`), []string{"-32600 null"}},
	{"no length", "Content-Type: text/plain\r\n\r\n", []string{"-32700 null"}},
	{"no length, then a body", "Content-Type: text/plain\r\n\r\n" + ping, []string{"-32700 null"}},
	{"garbage line", "hello\r\n", []string{"-32700 null"}},
	{"garbage lines", "hello\r\n\r\nworld\r\n\r\n", []string{"-32700 null"}},
	{"garbage without newline", "hello", []string{"-32700 null"}},
	{"garbage that joins the header name", "12", []string{"-32700 null"}},
	{"long garbage", strings.Repeat("x", 300_000), []string{"-32700 null"}},
	{"long garbage like a header", "a:" + strings.Repeat("x", 300_000) + "\r\n\r\n", []string{"-32700 null"}},
	{"length zero", "Content-Length: 0\r\n\r\n", []string{"-32700 null"}},
	{"negative length", "Content-Length: -5\r\n\r\n", []string{"-32700 null"}},
	{"length in words", "Content-Length: five\r\n\r\n", []string{"-32700 null"}},
	{"fraction", "Content-Length: 1.5\r\n\r\nx", []string{"-32700 null"}},
	{"huge length", "Content-Length: 2147483648\r\n\r\n", []string{"-32600 null"}},
	{"length over 64 bits", "Content-Length: 99999999999999999999\r\n\r\n", []string{"-32600 null"}},
	{"two lengths", "Content-Length: 5\r\nContent-Length: 6\r\n\r\n", []string{"-32700 null"}},
	{"length too small", "Content-Length: 10\r\n\r\n" + ping, []string{"-32700 null"}},
	{"length too large", "Content-Length: 60\r\n\r\n" + ping, []string{"-32700 null"}},
	{"not JSON", frame(`{"jsonrpc":`), []string{"-32700 null"}},
	{"NUL", frame("\x00"), []string{"-32700 null"}},
	{"too deep", frame(strings.Repeat("[", 2_000_000)), []string{"-32700 null"}},
	{"deep and closed", frame(strings.Repeat("[", 200_000) + strings.Repeat("]", 200_000)), []string{"-32700 null"}},
	{"deep params", frame(`{"jsonrpc":"2.0","id":1,"method":"ping","params":` + strings.Repeat("[", 9_000) + strings.Repeat("]", 9_000) + `}`), []string{"method ping 1"}},
	{"batch", frame("[" + ping + "]"), []string{"-32600 null"}},
	{"empty batch", frame("[]"), []string{"-32600 null"}},
	{"number", frame("1"), []string{"-32600 null"}},
	{"null", frame("null"), []string{"-32600 null"}},
	{"empty object", frame("{}"), []string{"-32600 null"}},
	{"no version", frame(`{"id":1,"method":"x"}`), []string{"-32600 1"}},
	{"old version", frame(`{"jsonrpc":"1.0","id":1,"method":"x"}`), []string{"-32600 1"}},
	{"no method", frame(`{"jsonrpc":"2.0","id":"a"}`), []string{`-32600 "a"`}},
	{"method not a string", frame(`{"jsonrpc":"2.0","id":2,"method":7}`), []string{"-32600 2"}},
	{"id null", frame(`{"jsonrpc":"2.0","id":null,"method":"x"}`), []string{"-32600 null"}},
	{"id fraction", frame(`{"jsonrpc":"2.0","id":1.5,"method":"x"}`), []string{"-32600 null"}},
	{"id object", frame(`{"jsonrpc":"2.0","id":{},"method":"x"}`), []string{"-32600 null"}},
	{"id true", frame(`{"jsonrpc":"2.0","id":true,"method":"x"}`), []string{"-32600 null"}},
	{"large id", frame(`{"jsonrpc":"2.0","id":123456789012345678901234567890,"method":"ping"}`), []string{"method ping 123456789012345678901234567890"}},
	{"negative id", frame(`{"jsonrpc":"2.0","id":-1,"method":"ping"}`), []string{"method ping -1"}},
	{"empty id", frame(`{"jsonrpc":"2.0","id":"","method":"ping"}`), []string{`method ping ""`}},
	{"escaped id", frame(`{"jsonrpc":"2.0","id":"\u0061","method":"ping"}`), []string{`method ping "a"`}},
	{"answer to nothing", frame(`{"jsonrpc":"2.0","id":77,"result":{}}`), nil},
	{"error to nothing", frame(`{"jsonrpc":"2.0","id":null,"error":{"code":1,"message":"x"}}`), nil},
	{"answer with a bad id", frame(`{"jsonrpc":"2.0","id":[],"result":{}}`), nil},
}

// received reads src to its end and lists what came of it, the answers that
// the stream gave itself included.
func received(t testing.TB, src io.Reader) []string {
	t.Helper()
	var out bytes.Buffer
	s := newStream(io.NopCloser(src), &out)
	var got []string
	flush := func() {
		for out.Len() > 0 {
			head, rest, ok := strings.Cut(out.String(), "\r\n\r\n")
			var n int
			if _, err := fmt.Sscanf(head, "Content-Length: %d", &n); !ok || err != nil || n > len(rest) {
				t.Fatalf("bad frame in the answer: %q", out.String())
			}
			var m incoming
			if err := json.Unmarshal([]byte(rest[:n]), &m); err != nil || m.Error == nil {
				t.Fatalf("bad answer: %q", rest[:n])
			}
			id := "null"
			if m.ID != nil {
				id = string(m.ID)
			}
			got = append(got, fmt.Sprintf("%d %s", m.Error.Code, id))
			out.Next(len(head) + 4 + n)
		}
	}
	for {
		msg, _, err := s.Read(context.Background())
		flush()
		if err != nil {
			return got
		}
		switch m := msg.(type) {
		case *jsonrpc2.Call:
			got = append(got, fmt.Sprintf("method %s %s", m.Method(), m.ID()))
		case *jsonrpc2.Notification:
			got = append(got, "method "+m.Method())
		case *jsonrpc2.Response:
			got = append(got, "response")
		case nil:
			t.Fatal("neither message nor error")
		}
	}
}

func TestFraming(t *testing.T) {
	for _, tt := range hostile {
		t.Run(tt.name, func(t *testing.T) {
			want := append(append([]string{}, tt.want...), `method ping "ping"`)
			got := received(t, strings.NewReader(tt.bytes+frame(ping)))
			if fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("got  %q\nwant %q", got, want)
			}
		})
	}
}

// A body over the limit is skipped without being held.
func TestOversizedBody(t *testing.T) {
	body := io.MultiReader(
		strings.NewReader(fmt.Sprintf("Content-Length: %d\r\n\r\n", MaxMessage+1)),
		io.LimitReader(spaces{}, MaxMessage+1),
		strings.NewReader(frame(ping)))
	got := received(t, body)
	if fmt.Sprint(got) != `[-32600 null method ping "ping"]` {
		t.Errorf("got %q", got)
	}
}

type spaces struct{}

func (spaces) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = ' '
	}
	return len(p), nil
}

// Bodies full of headers must not be read again and again.
func TestPutBackIsBounded(t *testing.T) {
	const n = 20_000
	src := frame(strings.Repeat(fmt.Sprintf("Content-Length: %d\r\n\r\n", MaxMessage), n))
	raw := &backReader{r: strings.NewReader(src + frame(ping))}
	s := newStream(io.NopCloser(strings.NewReader("")), io.Discard)
	s.raw = raw
	s.in.Reset(raw)
	for {
		if _, _, err := s.Read(context.Background()); err != nil {
			break
		}
	}
	if limit := 2*raw.wire + MaxMessage/32; raw.pushed > limit {
		t.Errorf("%d bytes put back of %d read", raw.pushed, raw.wire)
	}
}

// FuzzFraming feeds any bytes, then a clean start and a valid frame: the
// stream must come to the valid frame or, where the junk has announced a
// longer body, at least to the end of the input without a panic.
func FuzzFraming(f *testing.F) {
	for _, tt := range hostile {
		if len(tt.bytes) < 1000 {
			f.Add([]byte(tt.bytes))
		}
	}
	f.Add([]byte("Content-Length: 3\r\n\r\nContent-Length: 9\r\n\r\n"))
	f.Fuzz(func(t *testing.T, junk []byte) {
		src := string(junk) + "\r\n\r\n" + frame(ping)
		got := received(t, strings.NewReader(src))
		found := false
		for _, g := range got {
			found = found || g == `method ping "ping"`
		}
		// A header in the junk may claim bytes of the valid frame as its
		// body; one more frame after it must then be found.
		if !found {
			pad := strings.Repeat(frame(ping), 3)
			if bytes.Contains(bytes.ToLower(junk), []byte("content-length")) {
				return
			}
			t.Errorf("lost the valid frame behind %q: %q", junk, received(t, strings.NewReader(src+pad)))
		}
	})
}
