package server

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"strconv"
	"strings"
	"sync"

	"go.lsp.dev/jsonrpc2"

	"narrowgauge/server/project"
)

// MaxMessage is the largest message body, in bytes, that the server reads. A
// larger one is skipped and answered with InvalidRequest.
const MaxMessage = 64 << 20

// stream frames JSON-RPC messages as the LSP base protocol says (LSP 3.17,
// "Base Protocol"). Unlike the library's stream it outlives anything that a
// client sends: it answers what is malformed, finds the next header, and goes
// on. Only the end of the input or a failed read ends it.
type stream struct {
	in   *bufio.Reader
	raw  *backReader
	src  io.Closer
	lost bool // junk is being skipped: the complaint has been sent already

	outMu sync.Mutex
	out   io.Writer

	callsMu sync.Mutex
	calls   map[int32]bool // our own calls that still lack an answer
}

// backReader reads what was put back first. It stays flat however often
// something is put back, so that hostile input cannot grow a chain of readers.
type backReader struct {
	back   []byte
	r      io.Reader
	wire   int64 // bytes read from r
	pushed int64 // bytes ever put back
}

func (b *backReader) Read(p []byte) (int, error) {
	if len(b.back) > 0 {
		n := copy(p, b.back)
		b.back = b.back[n:]
		return n, nil
	}
	n, err := b.r.Read(p)
	b.wire += int64(n)
	return n, err
}

func newStream(in io.ReadCloser, out io.Writer) *stream {
	raw := &backReader{r: in}
	return &stream{in: bufio.NewReaderSize(raw, 64<<10), raw: raw, src: in, out: out, calls: map[int32]bool{}}
}

// frameError is a violation of the framing that was answered with code.
type frameError struct {
	code jsonrpc2.Code
	text string
}

func (e *frameError) Error() string { return e.text }

// Read returns the next well-formed message. What is not well-formed is
// answered here, because only here its id, or the lack of one, is known.
func (s *stream) Read(ctx context.Context) (jsonrpc2.Message, int64, error) {
	for {
		if err := ctx.Err(); err != nil {
			return nil, 0, err
		}
		body, err := s.frame()
		var bad *frameError
		if errors.As(err, &bad) {
			if err := s.refuse(nil, bad); err != nil {
				return nil, 0, err
			}
			continue
		}
		if err != nil {
			return nil, 0, err
		}
		msg, id, err := s.decode(body)
		if errors.As(err, &bad) {
			if bad.code == jsonrpc2.ParseError {
				s.resync(body)
			}
			if err := s.refuse(id, bad); err != nil {
				return nil, 0, err
			}
			continue
		}
		if err != nil {
			return nil, 0, err
		}
		if msg != nil {
			return msg, int64(len(body)), nil
		}
	}
}

// lengthHeader finds a length header that follows junk on the same line, as
// it does after a body that was longer than its header said: bodies do not
// end in a newline. No JSON text can contain a match followed by a newline,
// since strings have no raw control characters.
var lengthHeader = project.Pattern(`(?i)content-length:[ \t]*[0-9]{1,18}[ \t]*\r?\n`)

// headerStart finds a length header that the end of a body has cut off.
var headerStart = project.Pattern(`(?i)(?:` + prefixes("content-length:") + `|content-length:[ \t]*[0-9]{0,18}[ \t]*\r?)$`)

func prefixes(s string) string {
	var all []string
	for i := len(s); i > 0; i-- {
		all = append(all, s[:i])
	}
	return strings.Join(all, "|")
}

var headerLine = project.Pattern("^([!#$%&'*+.^_|~0-9A-Za-z`-]+):(.*)$")

// frame reads one header block and its body. After a *frameError the next
// call goes on: where the error hides the length of the body, at whatever
// looks like the next length header.
func (s *stream) frame() ([]byte, error) {
	length, seen, charset := int64(-1), false, ""
	bad := func(code jsonrpc2.Code, format string, args ...any) error {
		s.lost = true
		return &frameError{code, fmt.Sprintf(format, args...)}
	}
	for {
		line, err := s.line()
		if err != nil {
			return nil, err
		}
		text := strings.TrimRight(string(line), "\r\n")
		if strings.TrimSpace(text) == "" {
			if !seen {
				continue // stray blank lines between frames do no harm
			}
			if length < 0 {
				return nil, bad(jsonrpc2.ParseError, "header without Content-Length")
			}
			break
		}
		name, value := "", ""
		if m := headerLine().FindStringSubmatch(text); m != nil {
			name, value = strings.ToLower(m[1]), strings.TrimSpace(m[2])
		}
		if name == "" || glued(name) {
			// Perhaps the tail of a mis-sized body, then a good header.
			at := lastMatch(line)
			if at != nil {
				s.putBack(line[at[0]:])
			}
			if !s.lost {
				return nil, bad(jsonrpc2.ParseError, "malformed header line")
			}
			continue
		}
		switch name {
		case "content-length":
			n, err := strconv.ParseUint(value, 10, 63)
			switch {
			case err != nil && !allDigits(value):
				return nil, bad(jsonrpc2.ParseError, "Content-Length is not a number of bytes: %.40q", value)
			case err != nil || n > MaxMessage:
				return nil, bad(jsonrpc2.InvalidRequest, "message of %.40s bytes is over the limit of %d", value, MaxMessage)
			case length >= 0 && length != int64(n):
				return nil, bad(jsonrpc2.ParseError, "two different Content-Length headers")
			}
			length, s.lost = int64(n), false
		case "content-type":
			if _, p, err := mime.ParseMediaType(value); err == nil && p["charset"] != "" {
				charset = strings.ToLower(p["charset"])
			}
		}
		seen = seen || !s.lost
	}
	var body bytes.Buffer // grows as bytes arrive; a header by itself claims no memory
	if _, err := io.CopyN(&body, s.in, length); err != nil {
		if errors.Is(err, io.EOF) {
			err = io.ErrUnexpectedEOF
		}
		return nil, err
	}
	if charset != "" && charset != "utf-8" && charset != "utf8" {
		return nil, &frameError{jsonrpc2.InvalidRequest, fmt.Sprintf("charset %.40q is not utf-8", charset)}
	}
	return body.Bytes(), nil
}

func glued(name string) bool {
	const h = "content-length"
	return strings.HasSuffix(name, h) && len(name) > len(h) && name[len(name)-len(h)-1] != '-'
}

func allDigits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

func lastMatch(line []byte) []int {
	all := lengthHeader().FindAllIndex(line, -1)
	if len(all) == 0 {
		return nil
	}
	return all[len(all)-1]
}

// line reads to the next newline. Of a line that is longer than the buffer
// only the end is kept, where a header could be.
func (s *stream) line() ([]byte, error) {
	const tail = 128
	var kept []byte
	for {
		part, err := s.in.ReadSlice('\n')
		if err == nil {
			return append(kept, part...), nil
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return nil, err
		}
		if len(part) > tail {
			part = part[len(part)-tail:]
		}
		// A leading brace keeps the rest from passing as a header of its own.
		kept = append([]byte{'{'}, part...)
	}
}

// resync looks into a body that was not JSON for the header of the next
// message, which a too large Content-Length has swallowed, and puts it back.
func (s *stream) resync(body []byte) {
	s.lost = true
	at := lengthHeader().FindIndex(body)
	if at == nil {
		at = headerStart().FindIndex(body[max(0, len(body)-128):])
		if at != nil {
			at[0] += max(0, len(body)-128)
		}
	}
	// Each byte from the wire pays for two put back, which keeps the work
	// linear in the input, whatever the input is.
	if at == nil || s.raw.pushed+int64(len(body)) > 2*s.raw.wire+MaxMessage/64 {
		return
	}
	s.putBack(body[at[0]:])
}

func (s *stream) putBack(b []byte) {
	buffered, _ := s.in.Peek(s.in.Buffered())
	back := make([]byte, 0, len(b)+len(buffered)+len(s.raw.back))
	back = append(append(append(back, b...), buffered...), s.raw.back...)
	s.raw.pushed += int64(len(b))
	s.raw.back = back
	s.in.Reset(s.raw)
}

// decode checks one body against JSON-RPC 2.0. A nil message without error is
// to be ignored. The id is the raw JSON to answer under, if there is one.
func (s *stream) decode(body []byte) (msg jsonrpc2.Message, id json.RawMessage, err error) {
	// encoding/json limits the depth of nesting; the library's decoder would
	// recurse until the stack, and with it the process, ends.
	if !json.Valid(body) {
		return nil, nil, &frameError{jsonrpc2.ParseError, "the message is not JSON"}
	}
	invalid := func(text string) error { return &frameError{jsonrpc2.InvalidRequest, text} }
	switch body = bytes.TrimSpace(body); body[0] {
	case '{':
	case '[':
		return nil, nil, invalid("batches are not part of the protocol")
	default:
		return nil, nil, invalid("a message is a JSON object")
	}
	var m struct {
		Version json.RawMessage `json:"jsonrpc"`
		ID      json.RawMessage `json:"id"`
		Method  json.RawMessage `json:"method"`
		Params  json.RawMessage `json:"params"`
		Result  json.RawMessage `json:"result"`
		Error   json.RawMessage `json:"error"`
	}
	if err := json.Unmarshal(body, &m); err != nil {
		return nil, nil, &frameError{jsonrpc2.ParseError, "the message cannot be decoded"}
	}
	if m.Method == nil && (m.Result != nil || m.Error != nil) {
		// An answer is never answered, however bad it is.
		return s.response(m.ID, m.Result, m.Error), nil, nil
	}
	key, idOK := idKey(m.ID)
	if idOK {
		id = m.ID
	}
	var version, method string
	switch {
	case m.ID != nil && !idOK:
		return nil, nil, invalid("an id is an integer or a string")
	case json.Unmarshal(m.Version, &version) != nil || version != jsonrpc2.Version:
		return nil, id, invalid(`"jsonrpc" must be "2.0"`)
	case m.Method == nil || json.Unmarshal(m.Method, &method) != nil || method == "":
		return nil, id, invalid(`"method" must be a string`)
	}
	if m.ID == nil {
		msg, err := jsonrpc2.NewNotification(method, m.Params)
		if err != nil {
			return nil, nil, invalid("the message cannot be decoded")
		}
		return msg, nil, nil
	}
	msg, err = jsonrpc2.NewCall(jsonrpc2.NewStringID(key), method, m.Params)
	if err != nil {
		return nil, id, invalid("the message cannot be decoded")
	}
	return msg, id, nil
}

// idKey is the text under which the server knows a request: the id's JSON in
// one spelling. Inside the library every id of the client is a string that
// holds this text, which keeps apart 0, "" and "0", and has no upper limit.
func idKey(raw json.RawMessage) (string, bool) {
	if len(raw) == 0 || len(raw) > 1024 {
		return "", false
	}
	if raw[0] == '"' {
		var text string
		if json.Unmarshal(raw, &text) != nil {
			return "", false
		}
		out, err := json.Marshal(text)
		return string(out), err == nil
	}
	if raw[0] != '-' && (raw[0] < '0' || raw[0] > '9') || bytes.ContainsAny(raw, ".eE") {
		return "", false
	}
	return string(raw), true
}

// response matches an answer to one of our calls; the first answer counts,
// any other is dropped: the library would block on a second one.
func (s *stream) response(rawID, result, rawErr json.RawMessage) jsonrpc2.Message {
	var id int32
	if json.Unmarshal(rawID, &id) != nil {
		return nil
	}
	s.callsMu.Lock()
	known := s.calls[id]
	delete(s.calls, id)
	s.callsMu.Unlock()
	if !known {
		return nil
	}
	var failure error
	if rawErr != nil && string(rawErr) != "null" {
		var e struct {
			Code    int32  `json:"code"`
			Message string `json:"message"`
		}
		if json.Unmarshal(rawErr, &e) != nil {
			e.Code, e.Message = int32(jsonrpc2.InternalError), "malformed error"
		}
		failure = jsonrpc2.NewError(jsonrpc2.Code(e.Code), e.Message)
	}
	if result == nil {
		result = json.RawMessage("null")
	}
	msg, err := jsonrpc2.NewResponse(jsonrpc2.NewNumberID(id), result, failure)
	if err != nil {
		return nil
	}
	return msg
}

// wireMessage is any message that goes out.
type wireMessage struct {
	ID     json.RawMessage
	Method string
	Params json.RawMessage
	Result json.RawMessage
	Error  *wireError
}

type wireError struct {
	Code    int32  `json:"code"`
	Message string `json:"message"`
}

// refuse answers a message that never became one.
func (s *stream) refuse(id json.RawMessage, e *frameError) error {
	if id == nil {
		id = json.RawMessage("null")
	}
	return s.send(wireMessage{ID: id, Error: &wireError{int32(e.code), e.text}})
}

// Write sends msg.
func (s *stream) Write(ctx context.Context, msg jsonrpc2.Message) (int64, error) {
	w := wireMessage{}
	switch m := msg.(type) {
	case *jsonrpc2.Notification:
		w.Method, w.Params = m.Method(), noNull(json.RawMessage(m.Params()))
	case *jsonrpc2.Call:
		var n int32
		if _, err := fmt.Sscan(fmt.Sprintf("%d", m.ID()), &n); err != nil {
			return 0, fmt.Errorf("id of our own call: %w", err)
		}
		s.callsMu.Lock()
		s.calls[n] = true
		s.callsMu.Unlock()
		w.ID = json.RawMessage(strconv.Itoa(int(n)))
		w.Method, w.Params = m.Method(), noNull(json.RawMessage(m.Params()))
	case *jsonrpc2.Response:
		w.ID = json.RawMessage(fmt.Sprintf("%s", m.ID()))
		if err := m.Err(); err != nil {
			w.Error = &wireError{int32(jsonrpc2.InternalError), err.Error()}
			var e *jsonrpc2.Error
			if errors.As(err, &e) {
				w.Error.Code = int32(e.Code)
			}
		} else if w.Result = json.RawMessage(m.Result()); len(w.Result) == 0 {
			w.Result = json.RawMessage("null")
		}
	}
	return 0, s.send(w)
}

func noNull(raw json.RawMessage) json.RawMessage {
	if string(raw) == "null" {
		return nil
	}
	return raw
}

// notify sends a notification, whose params are JSON.
func (s *stream) notify(method string, params json.RawMessage) error {
	return s.send(wireMessage{Method: method, Params: noNull(params)})
}

// send writes a message. What it has of JSON is written as it is: the findings of a large
// source would else be read again at every keystroke.
func (s *stream) send(w wireMessage) error {
	const head = len("Content-Length: 1234567890\r\n\r\n")
	size := len(w.ID) + len(w.Method) + len(w.Params) + len(w.Result) + 100
	frame := make([]byte, head, head+size)
	frame = append(frame, `{"jsonrpc":"`+jsonrpc2.Version+`"`...)
	part := func(name string, value []byte) {
		if len(value) > 0 {
			frame = append(append(append(append(frame, `,"`...), name...), `":`...), value...)
		}
	}
	part("id", w.ID)
	if w.Method != "" {
		name, err := json.Marshal(w.Method)
		if err != nil {
			return fmt.Errorf("encoding a message: %w", err)
		}
		part("method", name)
	}
	part("params", w.Params)
	part("result", w.Result)
	if w.Error != nil {
		text, err := json.Marshal(w.Error)
		if err != nil {
			return fmt.Errorf("encoding a message: %w", err)
		}
		part("error", text)
	}
	frame = append(frame, '}')
	length := fmt.Appendf(nil, "Content-Length: %d\r\n\r\n", len(frame)-head)
	at := head - len(length)
	copy(frame[at:], length)
	s.outMu.Lock()
	defer s.outMu.Unlock()
	_, err := s.out.Write(frame[at:])
	return err
}

// Close ends the input.
func (s *stream) Close() error { return s.src.Close() }
