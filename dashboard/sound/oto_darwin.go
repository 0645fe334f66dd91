package sound

const systemName = "macOS audio"

// hasOutput is true: on macOS the library itself reports a missing output.
func hasOutput() bool { return true }
