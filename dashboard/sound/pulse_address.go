//go:build unix && !darwin

package sound

import (
	"net"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// An address is where a sound server may listen.
type address struct{ network, where string }

// serverPort is PulseAudio's own when an address gives none.
const serverPort = "4713"

// addresses lists where to look for the server: what PULSE_SERVER says, else
// the socket in the person's runtime folder. A shell got by su has no
// XDG_RUNTIME_DIR, so the folder is also built from the user's number.
func addresses() []address {
	if s := os.Getenv("PULSE_SERVER"); s != "" {
		host, _ := os.Hostname()
		return parseServers(s, host)
	}
	var out []address
	for _, dir := range []string{os.Getenv("XDG_RUNTIME_DIR"), "/run/user/" + strconv.Itoa(os.Getuid())} {
		if dir != "" {
			out = append(out, address{"unix", filepath.Join(dir, "pulse", "native")})
		}
	}
	return out
}

// parseServers reads PULSE_SERVER: addresses parted by blanks, each with an
// optional {host} in front that restricts it to one machine.
func parseServers(list, host string) []address {
	var out []address
	for s := range strings.FieldsSeq(list) {
		if rest, ok := strings.CutPrefix(s, "{"); ok {
			name, where, closed := strings.Cut(rest, "}")
			if !closed || name != host {
				continue
			}
			s = where
		}
		switch network, where, ok := strings.Cut(s, ":"); {
		case s == "":
		case strings.HasPrefix(s, "/"):
			out = append(out, address{"unix", s})
		case ok && network == "unix":
			out = append(out, address{"unix", where})
		case ok && (network == "tcp" || network == "tcp4" || network == "tcp6"):
			out = append(out, address{network, withPort(where)})
		default: // a bare host name
			out = append(out, address{"tcp", withPort(s)})
		}
	}
	return out
}

func withPort(where string) string {
	if _, _, err := net.SplitHostPort(where); err == nil {
		return where
	}
	return net.JoinHostPort(strings.Trim(where, "[]"), serverPort)
}

// cookie is the secret by which a server knows its user's programs. Where
// there is none, any 256 bytes will do for a server that asks for none.
func cookie() []byte {
	home := os.Getenv("HOME")
	for _, path := range []string{
		os.Getenv("PULSE_COOKIE"),
		filepath.Join(home, ".config", "pulse", "cookie"),
		filepath.Join(home, ".pulse-cookie"),
	} {
		if path == "" {
			continue
		}
		if c, err := os.ReadFile(path); err == nil && len(c) == 256 {
			return c
		}
	}
	return make([]byte, 256)
}
