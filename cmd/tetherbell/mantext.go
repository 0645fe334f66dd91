package main

// manSections are what the manual page says beyond the commands' own help.
var manSections = []struct{ title, text string }{
	{"EXIT STATUS", `check: 0 nothing of medium or high priority, 1 an alarm that ever was of medium
or high, 2 wrong use, unreadable, or no good line at all. settings: 0 nothing is
flagged, 1 something is, 2 wrong use or unreadable. All others: 0, or 2 with the
reason on standard error.`},
	{"ENVIRONMENT", `  NO_COLOR            set to anything: no colour; nothing on the screen needs it
  TERM                dumb: no screen, a line of text for each event
  PULSE_SERVER        the sound server, where it is not the user's own (Linux)
  XDG_CONFIG_HOME     where your own settings lie, if not in ~/.config (Linux)
  SOURCE_DATE_EPOCH   the day that tetherbell man puts under this page`},
	{"FILES", `  NAME.bell           a recording: the bridge's lines as they came, and what the host saw
                      and did; text, one line each
  NAME.bell.zst       the same, in the seekable format of Zstandard
  NAME.baseline.toml  beside the craft file NAME.toml: what accept has kept
  tetherbell/         in your own configuration folder: baselines by the craft's name, and
                      attempts.jsonl, the drill's attempts`},
	{"SEE ALSO", `PROTOCOL.md, which comes with the program, tells what a bridge has to send.`},
}
