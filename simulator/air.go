package simulator

// gravity is the standard acceleration of free fall, m/s^2 (ISO 2533).
const gravity = 9.80665

// gasConstant is that of dry air, J/(kg K) (ISO 2533).
const gasConstant = 287.05287

// density returns the density of dry air, kg/m^3: p/(R T).
func (a *Air) density() float64 { return a.Pascal / mul(gasConstant, a.Celsius+273.15) }

// nearest is how close to the ground, in radii, the formula of the ground
// effect is used: under it, it grows without bound, and no rotor does.
const nearest = 0.5

// groundEffect returns thrust over that far from the ground at the same
// speed, for a rotor of a radius whose disc is a height over it: 1/(1 -
// (R/4z)^2), from Cheeseman and Bennett, ARC R&M 3021, 1955 (formula from
// memory), used down to z = R/2.
func groundEffect(radius, height float64) float64 {
	q := radius / mul(4, max(height, mul(nearest, radius)))
	return 1 / (1 - mul(q, q))
}
