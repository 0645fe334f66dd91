package tone

import "math"

// cholesky factors the first k rows of the symmetric matrix whose lower half
// is a, in place of a copy. It reports false where a is not positive definite
// to within rounding.
func cholesky(a *[params][params]float64, k int) (l [params][params]float64, ok bool) {
	for i := range k {
		for j := 0; j <= i; j++ {
			s := a[i][j]
			for p := range j {
				s -= l[i][p] * l[j][p]
			}
			if i != j {
				l[i][j] = s / l[j][j]
				continue
			}
			if s <= 1e-13*a[i][i] || math.IsNaN(s) {
				return l, false
			}
			l[i][i] = math.Sqrt(s)
		}
	}
	return l, true
}

// solve returns the solution of the first k normal equations.
func solve(a *[params][params]float64, b *[params]float64, k int) (x [params]float64, ok bool) {
	l, ok := cholesky(a, k)
	if !ok {
		return x, false
	}
	back(&l, b, &x, k)
	return x, true
}

// back solves l l' x = b.
func back(l *[params][params]float64, b, x *[params]float64, k int) {
	for i := range k {
		s := b[i]
		for p := range i {
			s -= l[i][p] * x[p]
		}
		x[i] = s / l[i][i]
	}
	for i := k - 1; i >= 0; i-- {
		s := x[i]
		for p := i + 1; p < k; p++ {
			s -= l[p][i] * x[p]
		}
		x[i] = s / l[i][i]
	}
}

// inverse returns the inverse of the whole matrix.
func inverse(a *[params][params]float64) (inv [params][params]float64, ok bool) {
	l, ok := cholesky(a, params)
	if !ok {
		return inv, false
	}
	for c := range params {
		var e, x [params]float64
		e[c] = 1
		back(&l, &e, &x, params)
		for r := range params {
			inv[r][c] = x[r]
		}
	}
	return inv, true
}
