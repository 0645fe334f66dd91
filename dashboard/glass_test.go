package dashboard

import (
	"math/rand/v2"
	"testing"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A countingScreen counts what it is given.
type countingScreen struct {
	tcell.SimulationScreen
	puts int
}

func (c *countingScreen) Put(x, y int, text string, st tcell.Style) (string, int) {
	c.puts++
	return c.SimulationScreen.Put(x, y, text, st)
}

func newCounting(t *testing.T, w, h int) *countingScreen {
	c := &countingScreen{SimulationScreen: tcell.NewSimulationScreen("UTF-8")}
	require.NoError(t, c.Init())
	c.SetSize(w, h)
	t.Cleanup(c.Fini)
	return c
}

// Whatever is drawn, whenever the size changes: what the terminal has in the
// end is what a screen has that gets every picture whole.
func TestGlassShowsWhatWasDrawn(t *testing.T) {
	below, plain := newCounting(t, 40, 10), newCounting(t, 40, 10)
	g := &glass{Screen: below, gone: func(err error) { t.Fatal(err) }}
	chance := rand.New(rand.NewPCG(1, 2))
	texts := []string{" ", "a", "b", "─", "▞", "世"} // the last one is two columns wide
	styles := []tcell.Style{tcell.StyleDefault, tcell.StyleDefault.Bold(true), tcell.StyleDefault.Reverse(true)}
	for n := range 300 {
		if n%37 == 36 {
			w, h := 1+chance.IntN(60), 1+chance.IntN(20)
			below.SetSize(w, h)
			plain.SetSize(w, h)
		}
		for _, s := range []tcell.Screen{g, plain} {
			s.Clear()
		}
		for range chance.IntN(200) {
			x, y := chance.IntN(62)-1, chance.IntN(22)-1
			text, st := texts[chance.IntN(len(texts))], styles[chance.IntN(len(styles))]
			g.Put(x, y, text, st)
			plain.SimulationScreen.Put(x, y, text, st)
		}
		g.Show()
		plain.Show()
		want, _, _ := plain.GetContents()
		got, _, _ := below.GetContents()
		require.Equal(t, want, got, "picture %d", n)
	}
}

// A picture like the one before it costs the row that is given again, and a
// picture with one other cell one more.
func TestGlassGivesWhatChanged(t *testing.T) {
	below := newCounting(t, 140, 45)
	g := &glass{Screen: below, gone: func(err error) { t.Fatal(err) }}
	draw := func(also string) int {
		below.puts = 0
		g.Clear()
		for y := range 45 {
			for x := range 140 {
				g.Put(x, y, "─", tcell.StyleDefault)
			}
		}
		g.Put(70, 40, also, tcell.StyleDefault)
		g.Show()
		return below.puts
	}
	assert.Greater(t, draw("a"), 140*45)
	assert.Equal(t, 2*140, draw("a"))
	assert.Equal(t, 2*140+1, draw("b"))
}

// What another program wrote over a cell is drawn over again within as many
// pictures as there are rows.
func TestGlassHeals(t *testing.T) {
	const w, h = 20, 8
	below := newCounting(t, w, h)
	g := &glass{Screen: below, gone: func(err error) { t.Fatal(err) }}
	draw := func() {
		g.Clear()
		for y := range h {
			g.Put(3, y, "x", tcell.StyleDefault)
		}
		g.Show()
	}
	draw()
	cells, _, _ := below.GetContents() // the terminal's own: we write over them
	for i := range cells {
		cells[i].Runes, cells[i].Bytes = []rune{'?'}, []byte("?")
	}
	for range h {
		draw()
	}
	cells, _, _ = below.GetContents()
	for i := range cells {
		want := ' '
		if i%w == 3 {
			want = 'x'
		}
		require.Equal(t, want, cells[i].Runes[0], "cell %d", i)
	}
}
