package tone

import (
	"math"
	"sync"
)

// A transform is the discrete Fourier transform of real samples of which the
// upper half is nought: X[k] = sum x[i] exp(-2 pi j i k/size), for k from 0 to
// size/2. The size is 1, 3 or 5 times a power of two, 8 of it at least.
//
// Even and odd samples make one complex sequence of half the size, which is
// transformed by decimation in time, radix 4 (J. W. Cooley, J. W. Tukey, Math.
// Comp. 19, 1965, 297-301; how the two halves are told apart afterwards: W. H.
// Press et al., Numerical Recipes, section 12.3; both from memory). The first
// pass knows that half of its input is nought. A transform allocates nothing.
type transform struct {
	*plan
	in []complex128
	z  []complex128
}

// A plan is what all transforms of one size have in common. It is made once and
// never changed.
type plan struct {
	m     int     // complex numbers: half the size
	first int     // radix of the first pass, 4 or 8
	order []int32 // the input's index that each group of the first pass begins with
	quads []pass  // of radix 4
	odd   int     // radix of the last pass: 3, 5, or 1 where there is none
	last  []complex128
	split []complex128 // exp(-2 pi j k/size)/2
}

// A pass joins four transforms of length quarter to one, at each place.
type pass struct {
	quarter int
	turn    [3][]complex128 // factors of the second, third and fourth
}

// leastSize is the smallest transform's, for each odd factor.
const leastSize = 8

// plans are those of the sizes that were asked for, by size: a few dozen.
var plans sync.Map

func newTransform(size int) *transform {
	p, ok := plans.Load(size)
	if !ok {
		p, _ = plans.LoadOrStore(size, newPlan(size))
	}
	t := &transform{plan: p.(*plan)}
	t.in, t.z = make([]complex128, t.m/2), make([]complex128, t.m)
	return t
}

func newPlan(size int) *plan {
	t := &plan{m: size / 2, first: 4, odd: 1}
	twos := t.m
	for _, odd := range [...]int{3, 5} {
		if twos%odd == 0 {
			t.odd, twos = odd, twos/odd
		}
	}
	if math.Log2(float64(twos)) != 2*math.Floor(math.Log2(float64(twos))/2) {
		t.first = 8
	}
	radices := []int{t.first}
	done := t.first
	for ; done < twos; done *= 4 {
		p := pass{quarter: done}
		for k := range p.turn {
			p.turn[k] = turns(done, k+1, 4*done)
		}
		t.quads = append(t.quads, p)
		radices = append(radices, 4)
	}
	if t.odd > 1 {
		radices = append(radices, t.odd)
		for j := range done {
			for k := 1; k < t.odd; k++ {
				t.last = append(t.last, turn(j*k, t.m))
			}
		}
	}
	t.order = make([]int32, t.m/t.first)
	for b := range t.order {
		t.order[b] = int32(begins(b, radices, t.m))
	}
	t.split = turns(t.m/2+1, 1, size)
	for k := range t.split {
		t.split[k] /= 2
	}
	return t
}

// begins is the index in the input of the first number of a group of the first
// pass. The last pass deals the input out to so many transforms as its radix
// says, and each of these again.
func begins(group int, radices []int, m int) int {
	at, step, groups := 0, 1, m/radices[0]
	for i := len(radices) - 1; i > 0; i-- {
		groups /= radices[i]
		at += step * (group / groups)
		group %= groups
		step *= radices[i]
	}
	return at
}

// turn is exp(-2 pi j k/n).
func turn(k, n int) complex128 {
	s, c := math.Sincos(-2 * math.Pi * float64(k%n) / float64(n))
	return complex(c, s)
}

func turns(count, by, n int) []complex128 {
	t := make([]complex128, count)
	for j := range t {
		t[j] = turn(j*by, n)
	}
	return t
}

// run transforms what stands in t.in: the sample 2i as real part of number i,
// 2i+1 as its imaginary part. The result is in t.z; power tells it apart.
func (t *transform) run() {
	if t.first == 8 {
		t.eights()
	} else {
		t.fours()
	}
	for i := range t.quads {
		t.quads[i].join(t.z)
	}
	switch t.odd {
	case 3:
		t.threes()
	case 5:
		t.fives()
	}
}

// fours is the first pass, of radix 4; the third and fourth number are nought.
func (t *transform) fours() {
	step := t.m / 4
	lo, hi := t.in[:step], t.in[step:][:step]
	z := t.z
	for _, at := range t.order {
		a, b := lo[at], hi[at]
		ar, ai, br, bi := real(a), imag(a), real(b), imag(b)
		q := z[:4:4]
		q[0] = complex(ar+br, ai+bi)
		q[1] = complex(ar+bi, ai-br)
		q[2] = complex(ar-br, ai-bi)
		q[3] = complex(ar-bi, ai+br)
		z = z[4:]
	}
}

// eights is the same of radix 8: a transform of four for the even results, one
// of the numbers turned by an eighth for the odd ones.
func (t *transform) eights() {
	const half = math.Sqrt2 / 2
	step := t.m / 8
	i0, i1, i2, i3 := t.in[:step], t.in[step:][:step], t.in[2*step:][:step], t.in[3*step:][:step]
	z := t.z
	for _, at := range t.order {
		a, b, c, d := i0[at], i1[at], i2[at], i3[at]
		ar, ai, br, bi, cr, ci, dr, di := real(a), imag(a), real(b), imag(b), real(c), imag(c), real(d), imag(d)
		q := z[:8:8]
		pr, pi, mr, mi := ar+cr, ai+ci, ar-cr, ai-ci
		sr, si, tr, ti := br+dr, bi+di, br-dr, bi-di
		q[0] = complex(pr+sr, pi+si)
		q[2] = complex(mr+ti, mi-tr)
		q[4] = complex(pr-sr, pi-si)
		q[6] = complex(mr-ti, mi+tr)
		br, bi = half*(br+bi), half*(bi-br)
		cr, ci = ci, -cr
		dr, di = half*(di-dr), -half*(dr+di)
		pr, pi, mr, mi = ar+cr, ai+ci, ar-cr, ai-ci
		sr, si, tr, ti = br+dr, bi+di, br-dr, bi-di
		q[1] = complex(pr+sr, pi+si)
		q[3] = complex(mr+ti, mi-tr)
		q[5] = complex(pr-sr, pi-si)
		q[7] = complex(mr-ti, mi+tr)
		z = z[8:]
	}
}

// join runs one pass of radix 4 over all of z.
func (p *pass) join(z []complex128) {
	h := p.quarter
	w1, w2, w3 := p.turn[0][:h], p.turn[1][:h], p.turn[2][:h]
	for ; len(z) >= 4*h; z = z[4*h:] {
		z0, z1, z2, z3 := z[:h], z[h:][:h], z[2*h:][:h], z[3*h:][:h]
		for j, w := range w1 {
			br := real(z1[j])*real(w) - imag(z1[j])*imag(w)
			bi := real(z1[j])*imag(w) + imag(z1[j])*real(w)
			w = w2[j]
			cr := real(z2[j])*real(w) - imag(z2[j])*imag(w)
			ci := real(z2[j])*imag(w) + imag(z2[j])*real(w)
			w = w3[j]
			dr := real(z3[j])*real(w) - imag(z3[j])*imag(w)
			di := real(z3[j])*imag(w) + imag(z3[j])*real(w)
			ar, ai := real(z0[j]), imag(z0[j])
			pr, pi, mr, mi := ar+cr, ai+ci, ar-cr, ai-ci
			sr, si, tr, ti := br+dr, bi+di, br-dr, bi-di
			z0[j] = complex(pr+sr, pi+si)
			z1[j] = complex(mr+ti, mi-tr)
			z2[j] = complex(pr-sr, pi-si)
			z3[j] = complex(mr-ti, mi+tr)
		}
	}
}

// threes is the last pass where the size is three times a power of two.
func (t *transform) threes() {
	const sin = 0.86602540378443864676 // of 120 degrees
	h := t.m / 3
	z0, z1, z2 := t.z[:h], t.z[h:][:h], t.z[2*h:][:h]
	w := t.last
	for j, a := range z0 {
		b, c := z1[j]*w[0], z2[j]*w[1]
		w = w[2:]
		sr, si := real(b)+real(c), imag(b)+imag(c)
		dr, di := sin*(imag(b)-imag(c)), sin*(real(c)-real(b))
		mr, mi := real(a)-sr/2, imag(a)-si/2
		z0[j] = complex(real(a)+sr, imag(a)+si)
		z1[j] = complex(mr+dr, mi+di)
		z2[j] = complex(mr-dr, mi-di)
	}
}

// fives is the last pass where the size is five times a power of two.
func (t *transform) fives() {
	const (
		c1, s1 = 0.30901699437494742410, 0.95105651629515357212  // of 72 degrees
		c2, s2 = -0.80901699437494742410, 0.58778525229247312917 // of 144 degrees
	)
	h := t.m / 5
	z0, z1, z2, z3, z4 := t.z[:h], t.z[h:][:h], t.z[2*h:][:h], t.z[3*h:][:h], t.z[4*h:][:h]
	w := t.last
	for j, a := range z0 {
		b, c, d, e := z1[j]*w[0], z2[j]*w[1], z3[j]*w[2], z4[j]*w[3]
		w = w[4:]
		pr, pi := real(b)+real(e), imag(b)+imag(e)
		qr, qi := real(c)+real(d), imag(c)+imag(d)
		ur, ui := real(b)-real(e), imag(b)-imag(e)
		vr, vi := real(c)-real(d), imag(c)-imag(d)
		ar, ai := real(a), imag(a)
		z0[j] = complex(ar+pr+qr, ai+pi+qi)
		mr, mi := ar+c1*pr+c2*qr, ai+c1*pi+c2*qi
		nr, ni := s1*ur+s2*vr, s1*ui+s2*vi
		z1[j] = complex(mr+ni, mi-nr)
		z4[j] = complex(mr-ni, mi+nr)
		mr, mi = ar+c2*pr+c1*qr, ai+c2*pi+c1*qi
		nr, ni = s2*ur-s1*vr, s2*ui-s1*vi
		z2[j] = complex(mr+ni, mi-nr)
		z3[j] = complex(mr-ni, mi+nr)
	}
}

// power puts scale*|X[k]|^2 into dst[k], for k from lo to hi.
func (t *transform) power(dst []float64, lo, hi int, scale float64) {
	if lo <= 0 {
		x := real(t.z[0]) + imag(t.z[0])
		dst[0], lo = scale*x*x, 1
	}
	if hi >= t.m {
		x := real(t.z[0]) - imag(t.z[0])
		dst[t.m], hi = scale*x*x, t.m-1
	}
	if lo > hi {
		return
	}
	// The factors of the upper half are those of the lower one mirrored.
	half := min(hi, t.m/2)
	if lo <= half {
		t.lower(dst[lo:half+1], lo, scale)
		lo = half + 1
	}
	for ; lo <= hi; lo++ {
		a, b, w := t.z[lo], t.z[t.m-lo], t.split[t.m-lo]
		er, ei := real(a)+real(b), imag(a)-imag(b)
		or, oi := imag(a)+imag(b), real(b)-real(a)
		xr := er/2 - or*real(w) - oi*imag(w)
		xi := ei/2 + or*imag(w) - oi*real(w)
		dst[lo] = scale * (xr*xr + xi*xi)
	}
}

// lower is power for bins from lo on, none over a quarter of the size.
func (t *transform) lower(dst []float64, lo int, scale float64) {
	up := t.z[lo:][:len(dst)]
	down := t.z[t.m-lo-len(dst)+1:][:len(dst)]
	split := t.split[lo:][:len(dst)]
	for i, a := range up {
		b, w := down[len(down)-1-i], split[i]
		// Twice the transforms of the even and of the odd samples.
		er, ei := real(a)+real(b), imag(a)-imag(b)
		or, oi := imag(a)+imag(b), real(b)-real(a)
		xr := er/2 + or*real(w) - oi*imag(w)
		xi := ei/2 + or*imag(w) + oi*real(w)
		dst[i] = scale * (xr*xr + xi*xi)
	}
}
