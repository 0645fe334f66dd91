package alarms

import (
	"fmt"
	"hash/maphash"
	"math/rand/v2"
	"reflect"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// The law: a detector that does not heed a kind of line holds the same, to the
// bit, whatever the values in those lines are. So nothing of what a restarted
// bridge sent stays with a detector that is not reset for it.
func TestHeedsAllThatIsKept(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some ten seconds")
	}
	seed := maphash.MakeSeed()
	for _, name := range []string{"gains-high", "weak-motor", "calm", "tip-over"} {
		whole := keptState(t, name, decode.Unknown, seed)
		require.Equal(t, whole, keptState(t, name, decode.Unknown, seed), "twice the same gives the same")
		for tag := decode.Axes; tag < decode.State; tag++ {
			changed := 0
			for k, was := range keptState(t, name, tag, seed) {
				if whole[k] != was {
					assert.True(t, detect.Kind(k).Heeds(1<<tag), "%s: %s keeps something of %s", name, detect.Kind(k), tag)
					changed++
				}
			}
			assert.Positive(t, changed, "%s: nobody has looked at %s", name, tag)
		}
	}
	for k := range detect.KindCount {
		assert.True(t, k.Heeds(1<<decode.State), "%s", k)
		assert.False(t, k.Heeds(1<<decode.Hello|1<<decode.Note), "%s", k)
	}
}

// keptState runs a scenario, with the values of one kind of line changed by up to
// a hundredth, and returns a digest of all that each detector holds then.
func keptState(t *testing.T, scenario string, changed decode.Tag, seed maphash.Seed) (all [detect.KindCount]uint64) {
	e, rng := New(craft.Craft{RatedA: 20}, Options{}), rand.New(rand.NewPCG(1, 2))
	eachSample(t, scenario, func(s *decode.Sample) {
		if s.Tag == changed {
			for i, v := range s.Num {
				s.Num[i] = v * (1 + 0.01*rng.Float64())
			}
		}
	}, func(s *decode.Sample, size int) {
		e.Sample(s, size)
		e.Events()
	})
	for _, d := range e.detectors {
		var h maphash.Hash
		h.SetSeed(seed)
		digest(&h, reflect.ValueOf(d), map[unsafe.Pointer]bool{})
		all[d.Kind()] = h.Sum64()
	}
	return all
}

// digest takes in all that a value holds, through pointers; what is pointed to
// again is taken in once. NaN is like NaN here.
func digest(h *maphash.Hash, v reflect.Value, seen map[unsafe.Pointer]bool) {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() || seen[v.UnsafePointer()] {
			return
		}
		seen[v.UnsafePointer()] = true
		digest(h, v.Elem(), seen)
	case reflect.Interface:
		if !v.IsNil() {
			digest(h, v.Elem(), seen)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			digest(h, v.Field(i), seen)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			digest(h, v.Index(i), seen)
		}
	case reflect.Map: // no detector goes through one: the order would be another each time
		fmt.Fprint(h, v.Len(), " ")
	case reflect.Func, reflect.Chan:
	default:
		fmt.Fprint(h, v, " ")
	}
}
