package main

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestCellsOf(t *testing.T) {
	rows, err := cellsOf("a\x1b[1m\x1b[38;2;255;0;16mb\x1b[0m█\n\x1b[48;5;196m\x1b[7mc\x1b[27m \x1b[49m", size{4, 2})
	require.NoError(t, err)
	red := style{bg: "#ff0000"} // 196 is the corner 5,0,0 of xterm's cube (from memory)
	turned := red
	turned.reverse = true
	assert.Equal(t, [][]cell{
		{{r: 'a'}, {'b', style{fg: "#ff0010", bold: true}}, {r: '█'}, {r: ' '}},
		{{'c', turned}, {' ', red}, {r: ' '}, {r: ' '}},
	}, rows)
	for _, bad := range []string{"\x1b[2J", "\x1b[5m", "\x1b[38;7m", "\x07", "abcde", "\n\na", "\x1b[", "\x1b[38;5m"} {
		_, err := cellsOf(bad, size{4, 2})
		assert.Error(t, err, "%q", bad)
	}
}

// Eighths, quarters and lines are where the code charts show them (Unicode
// 2580 to 259F, from memory): in pixels of a cell of 8 by 16 that begins at
// 10,10.
func TestShapes(t *testing.T) {
	for r, want := range map[rune]string{
		'█': "M10 10h8v16h-8z", '▏': "M10 10h1v16h-1z", '▉': "M10 10h7v16h-7z", '▀': "M10 10h8v8h-8z", '▄': "M10 18h8v8h-8z",
		'▌': "M10 10h4v16h-4z", '▐': "M14 10h4v16h-4z", '▚': "M10 10h4v8h-4zM14 18h4v8h-4z", '▞': "M14 10h4v8h-4zM10 18h4v8h-4z",
		'─': "M10 18h8v1h-8z", '┃': "M13 10h2v16h-2z",
		'⠁': "M11 11h2v2h-2z", '⢀': "M15 23h2v2h-2z", '⣀': "M11 23h2v2h-2zM15 23h2v2h-2z",
	} {
		svg := svgOf([][]cell{{{r: r}}}, "x")
		assert.Contains(t, svg, `<path fill="`+ink+`" d="`+want+`"/>`, "%c", r)
		assert.NotContains(t, svg, "<text", "%c", r)
	}
	assert.Equal(t, 2, strings.Count(svgOf([][]cell{{{r: 'a'}, {r: '<'}, {r: ' '}, {r: 'b'}}}, "x"), "<text"), "a word is put as one")
}

// A picture is one XML document that asks for nothing from elsewhere.
func TestPictureStandsAlone(t *testing.T) {
	svg := svgOf([][]cell{{{r: '<'}, {'&', style{bold: true, fg: "#ff0000", underline: true}}, {'"', style{reverse: true}}}}, "a<b")
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		_, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
	}
	assert.Contains(t, svg, "&lt;")
	assert.NotContains(t, svg, "href")
	assert.Equal(t, 1, strings.Count(svg, "http"), "the name of the format alone")
}
