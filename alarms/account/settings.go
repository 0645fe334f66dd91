package account

import (
	"slices"
	"strings"

	"tetherbell/decode"
)

const (
	maxSettings = 500 // names that are kept
	maxChanges  = 50  // earlier values of each
)

// settings keeps what the craft reports of its settings.
type settings struct {
	of   map[string]int
	all  []Setting
	has  []bool // a value is known now
	more int    // names that found no room
}

func (k *settings) take(s *decode.Sample, at int64) {
	v, ok := s.Get(decode.SetValue)
	i, known := k.of[string(s.Word)]
	if !known {
		if !ok {
			return
		}
		if len(k.all) >= maxSettings {
			k.more++
			return
		}
		if k.of == nil {
			k.of = map[string]int{}
		}
		name := string(s.Word)
		k.of[name] = len(k.all)
		k.all, k.has = append(k.all, Setting{Name: name, Value: v}), append(k.has, true)
		return
	}
	x := &k.all[i]
	if ok == k.has[i] && (!ok || v == x.Value) {
		return
	}
	if k.has[i] && len(x.Was) < maxChanges {
		x.Was = append(x.Was, Change{Value: x.Value, Until: seconds(at)})
	}
	if k.has[i] = ok; ok {
		x.Value = v
	}
}

func (k *settings) account() []Setting {
	out := append([]Setting{}, k.all...)
	slices.SortFunc(out, func(a, b Setting) int { return strings.Compare(a.Name, b.Name) })
	return out
}
