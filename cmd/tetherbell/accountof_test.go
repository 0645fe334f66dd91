package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestTry(t *testing.T) {
	file := os.Getenv("TRY")
	var errs bytes.Buffer
	con := &console{in: nil, out: io.Discard, err: &errs}
	at := time.Now()
	a, err := accountOf(context.Background(), con, file, nil, os.Getenv("AGAIN") != "")
	require.NoError(t, err)
	t.Log(time.Since(at))
	for i := range a.Axes {
		a.Axes[i].Control = nil
		a.Axes[i].Rate = nil
		a.Axes[i].Spectrum = nil
	}
	for i := range a.Motors {
		a.Motors[i].Output = nil
		a.Motors[i].RPM = nil
		a.Motors[i].Temp = nil
	}
	a.Throttle, a.Stick, a.Lift, a.Pack.Volts, a.Pack.Amps, a.Air.Height = nil, nil, nil, nil, nil, nil
	if a.Vibration != nil {
		a.Vibration.Root = nil
	}
	text, err := json.MarshalIndent(a, "", " ")
	require.NoError(t, err)
	t.Log(errs.String())
	os.WriteFile(os.Getenv("TRYOUT"), text, 0o644)
}
