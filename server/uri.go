package server

import (
	"net/url"
	"path"
	"runtime"
	"strings"
)

// docKey names a document inside the server: one key for all the spellings
// of its URI. It is never sent to the client, who gets the URI it sent.
type docKey string

// parseURI gives the key of a client's URI and, for file URIs, the path in
// the form of the operating system. It accepts anything but the empty text;
// what it cannot parse is its own key, without a path.
func parseURI(raw string) (key docKey, file string, ok bool) {
	if raw == "" {
		return "", "", false
	}
	scheme, rest, found := strings.Cut(raw, ":")
	if !found {
		return docKey(raw), "", true
	}
	scheme = strings.ToLower(scheme)
	if scheme != "file" {
		return docKey(scheme + ":" + normalEscapes(rest)), "", true
	}
	u, err := url.Parse(raw)
	if err != nil || u.Opaque != "" || strings.Trim(u.Host, ".") != u.Host || strings.ContainsAny(u.Host, "/\\") || u.Path == "" || strings.ContainsRune(u.Path, 0) || u.RawQuery != "" || u.Fragment != "" {
		return docKey(scheme + ":" + normalEscapes(rest)), "", true
	}
	p := path.Clean("/" + u.Path)
	if u.Host != "" && !strings.EqualFold(u.Host, "localhost") {
		p = strings.TrimSuffix("//"+strings.ToLower(u.Host)+p, "/")
	}
	p = lowerDrive(p)
	return docKey("file:" + p), systemPath(p, onWindows), true
}

const onWindows = runtime.GOOS == "windows"

// pathKey is the key of a file that was reached by its path.
func pathKey(file string) docKey { return keyOf(file, onWindows) }

// keyOf is pathKey for a system, so that the tests have both.
func keyOf(file string, windows bool) docKey {
	if windows {
		file = strings.ReplaceAll(file, `\`, "/")
		if len(file) > 1 && file[1] == ':' {
			file = "/" + file
		}
	}
	unc := strings.HasPrefix(file, "//")
	file = path.Clean(file)
	if unc { // as in a URI, where the case of a host makes no difference
		host, rest, _ := strings.Cut(file[1:], "/")
		file = strings.TrimSuffix("//"+strings.ToLower(host)+"/"+rest, "/")
	}
	return docKey("file:" + lowerDrive(file))
}

// fileURI is the URI of a file that no client has named yet.
func fileURI(file string) string { return uriOf(pathKey(file)) }

func uriOf(key docKey) string {
	p := strings.TrimPrefix(string(key), "file:")
	host := ""
	if rest, ok := strings.CutPrefix(p, "//"); ok {
		host, p, _ = strings.Cut(rest, "/")
		p = "/" + p
	}
	u := url.URL{Scheme: "file", Host: host, Path: p}
	s := u.String()
	if host == "" && !strings.HasPrefix(s, "file://") {
		s = "file://" + strings.TrimPrefix(s, "file:")
	}
	return s
}

// systemPath is a path of a URI as the system has it.
func systemPath(p string, windows bool) string {
	if !windows {
		return p
	}
	if len(p) > 2 && p[2] == ':' {
		if p = p[1:]; len(p) == 2 {
			p += "/" // not the folder where the drive is at the moment
		}
	}
	return strings.ReplaceAll(p, "/", `\`)
}

// lowerDrive makes C: and c: the same.
func lowerDrive(p string) string {
	if len(p) > 2 && p[0] == '/' && p[2] == ':' && p[1] >= 'A' && p[1] <= 'Z' {
		return "/" + strings.ToLower(p[1:2]) + p[2:]
	}
	return p
}

// normalEscapes spells percent escapes in one way (RFC 3986, section 6.2.2):
// unreserved characters bare, everything else in upper case.
func normalEscapes(s string) string {
	if !strings.Contains(s, "%") {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] != '%' || i+2 >= len(s) || !isHex(s[i+1]) || !isHex(s[i+2]) {
			b.WriteByte(s[i])
			continue
		}
		c := unhex(s[i+1])<<4 | unhex(s[i+2])
		if c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || strings.IndexByte("-._~", c) >= 0 {
			b.WriteByte(c)
		} else {
			b.WriteString(strings.ToUpper(s[i : i+3]))
		}
		i += 2
	}
	return b.String()
}

func isHex(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'a' && c <= 'f' || c >= 'A' && c <= 'F'
}

func unhex(c byte) byte {
	switch {
	case c >= 'a':
		return c - 'a' + 10
	case c >= 'A':
		return c - 'A' + 10
	}
	return c - '0'
}
