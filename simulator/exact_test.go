package simulator

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
)

// The library's functions are the oracle for ours.
func TestExactAgreesWithTheLibrary(t *testing.T) {
	for x := -3.0; x < 3; x += 0.00071 {
		require.InDelta(t, math.Sin(2*math.Pi*x), sine(x), 2e-10, "sine(%v)", x)
		require.InDelta(t, math.Cos(2*math.Pi*x), cosine(x), 2e-10, "cosine(%v)", x)
	}
	for _, x := range []float64{0, 1e-9, 1e-4, 0.01, 0.2, 0.5, 0.7, 1, 3, 10, 40, 50} {
		require.InDelta(t, -math.Expm1(-x), approach(x), 1e-12, "approach(%v)", x)
	}
	assert.Equal(t, 0.3, grid(0.26, 10))
	assert.Equal(t, -0.2, grid(-0.24, 10))
	assert.False(t, math.Signbit(grid(-0.01, 10)), "no minus nought")
}

// What feeds a sum must not be a bare product: some processors would fuse the
// two and round once, and the same seed would give other bytes there. So in
// the files that make numbers every product goes through mul, but for those of
// whole numbers and of constants.
func TestNoBareProducts(t *testing.T) {
	for _, name := range []string{
		"air.go", "attitude.go", "bench.go", "body.go", "bridge.go", "control.go", "exact.go",
		"happen.go", "layout.go", "measure.go", "motor.go", "noise.go", "notch.go", "pack.go",
		"propeller.go", "sense.go", "settings.go", "vibration.go", "watch.go",
	} {
		files := token.NewFileSet()
		f, err := parser.ParseFile(files, name, nil, 0)
		require.NoError(t, err)
		ast.Inspect(f, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.GenDecl:
				return n.Tok != token.CONST
			case *ast.FuncDecl:
				return n.Name.Name != "mul"
			case *ast.AssignStmt:
				assert.NotEqual(t, token.MUL_ASSIGN, n.Tok, files.Position(n.Pos()))
			case *ast.BinaryExpr:
				if n.Op == token.MUL && !wholeOrConstant(n.X) && !wholeOrConstant(n.Y) {
					assert.Fail(t, "bare product", files.Position(n.Pos()).String())
				}
				if n.Op == token.MUL && literal(n.X) != literal(n.Y) && !conversion(n.X) && !conversion(n.Y) {
					assert.Fail(t, "bare product", files.Position(n.Pos()).String())
				}
			}
			return true
		})
	}
}

func literal(e ast.Expr) bool { _, ok := e.(*ast.BasicLit); return ok }

// conversion reports whether e is int64(...): a product of whole numbers.
func conversion(e ast.Expr) bool {
	c, ok := e.(*ast.CallExpr)
	if !ok {
		return false
	}
	name, ok := c.Fun.(*ast.Ident)
	return ok && name.Name == "int64"
}

func wholeOrConstant(e ast.Expr) bool { return literal(e) || conversion(e) }

// The noise has the moments of a normal one, and neighbours know nothing of
// each other.
func TestNoise(t *testing.T) {
	n := newNoise(1, streamAir)
	v := make([]float64, 200_000)
	for k := range v {
		v[k] = n.normal()
	}
	mean, sd := stat.MeanStdDev(v, nil)
	assert.InDelta(t, 0, mean, 0.01)
	assert.InDelta(t, 1, sd, 0.01)
	assert.InDelta(t, 0, stat.Correlation(v[1:], v[:len(v)-1], nil), 0.01)
	beyond := 0
	for _, x := range v {
		if math.Abs(x) > 1.96 {
			beyond++
		}
	}
	assert.InDelta(t, 0.05, float64(beyond)/float64(len(v)), 0.004)
}
