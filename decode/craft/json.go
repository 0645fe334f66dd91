package craft

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
)

// ParseJSON reads what encoding/json writes of a Craft, as the head of a
// recording holds it. It is as strict as Parse: a key it does not know may be
// a limit that the day was judged by.
func ParseJSON(data []byte) (Craft, error) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	var c Craft
	if err := d.Decode(&c); err != nil {
		return Craft{}, fmt.Errorf("read craft settings: %w", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return Craft{}, fmt.Errorf("read craft settings: something follows them")
	}
	if err := c.Check(); err != nil {
		return Craft{}, err
	}
	return c, nil
}
