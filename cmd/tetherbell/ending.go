package main

import (
	"context"
	"errors"
	"math"
	"os"
	"os/signal"
	"slices"
	"time"

	"tetherbell/alarms/detect"
)

// A signalled end is the signal that ended us: the cause of the context's end.
type signalled struct{ by os.Signal }

func (e signalled) Error() string { return "ended by a signal (" + e.by.String() + ")" }

// untilSignal makes the context of the process, which ends with the first of the
// end signals; stop lets go of them. A signal that was ignored when we were
// started stays ignored, for whoever started us so wants us to outlive it: nohup,
// a shell that put us in the background.
func untilSignal(ctx context.Context) (_ context.Context, stop func()) {
	ctx, cancel := context.WithCancelCause(ctx)
	heard := make(chan os.Signal, 1)
	if heeded := slices.DeleteFunc(slices.Clone(endSignals), signal.Ignored); len(heeded) > 0 {
		signal.Notify(heard, heeded...) // without any it would be all there are
	}
	// Ended by the signal or stop.
	go func() {
		select {
		case s := <-heard:
			cancel(signalled{s})
		case <-ctx.Done():
		}
	}()
	return ctx, func() { signal.Stop(heard); cancel(nil) }
}

// unasked says what has ended a context where no person at the bench did: its
// window was closed, its ssh died, its service was stopped. nil: a person did.
func unasked(ctx context.Context) error {
	var e signalled
	if errors.As(context.Cause(ctx), &e) && e.by != os.Interrupt {
		return e
	}
	return nil
}

// heedEnd waits for the end of asked, the context that people and signals end, or
// of ctx, the run's own. An end that nobody asked for while somebody relies on the
// watch is heard first: the propellers may turn, and their window is gone. The
// watch and its recording go on meanwhile.
func (l *live) heedEnd(asked, ctx context.Context) {
	select {
	case <-ctx.Done():
		return
	case <-asked.Done():
	}
	why := unasked(asked)
	if why == nil || l.staged || !l.dog.relied.Load() {
		return
	}
	text := why.Error() + " while the craft may be ARMED: the watch ends"
	l.dog.farewell.Store(&text) // for the desk, which may stand still
	l.cut = hinted(errors.New(why.Error()+" while the craft may be ARMED: nobody watches it any more"),
		"cut throttle and press stop; then start the watch again")
	l.cry(ctx, func() { l.aud.sound.Want(detect.High, math.MaxUint64) })
}

// takeLeave records and tells, as the desk, why the watch is about to end.
func (l *live) takeLeave() {
	if text := l.dog.farewell.Swap(nil); text != nil {
		l.leaving, l.shownAt = *text, time.Time{} // the next tick shows it, where one comes
		l.record(*text)
		l.say(*text)
	}
}
