package craft

import (
	"encoding/json"
	"iter"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// A List is several words of a craft file. It is one text with a line for
// each word, so that two craft can be compared as they are. "" is none.
type List string

// notAList stands for what was written in the place of a list and is none:
// Check refuses it where its key and line are known.
const notAList = List("\x00")

// ListOf makes a list.
func ListOf(words ...string) List { return List(strings.Join(words, "\n")) }

// All gives the words one by one.
func (l List) All() iter.Seq[string] {
	if l == "" {
		return func(func(string) bool) {}
	}
	return strings.SplitSeq(string(l), "\n")
}

// String tells the words in one line.
func (l List) String() string { return strings.ReplaceAll(string(l), "\n", ", ") }

// take keeps words, or notes that they are no list.
func (l *List) take(words []string, err error) {
	*l = ListOf(words...)
	if err != nil || len(words) == 0 || strings.Count(string(*l), "\n") != len(words)-1 {
		*l = notAList
	}
}

// UnmarshalTOML reads a list of texts. What is wrong with it is left to Check,
// which knows the line.
func (l *List) UnmarshalTOML(data []byte) error {
	var doc struct {
		List []string `toml:"list"`
	}
	err := toml.Unmarshal(append([]byte("list = "), data...), &doc)
	l.take(doc.List, err)
	return nil
}

// UnmarshalJSON reads what MarshalJSON writes.
func (l *List) UnmarshalJSON(data []byte) error {
	var words []string
	err := json.Unmarshal(data, &words)
	l.take(words, err)
	return nil
}

// MarshalJSON writes a list of texts.
func (l List) MarshalJSON() ([]byte, error) {
	words := []string{}
	for w := range l.All() {
		words = append(words, w)
	}
	return json.Marshal(words)
}
