// Package measure reads and writes quantities as people write them in a
// kitchen: 1/2 in, 1 1/2 tbsp, 6 240 ft, 1 902 m, 11 psi, 1 h 5 min.
//
// Each quantity is a float64 in one unit, named in its type's comment. Parse
// functions accept fractions (1/2, 1 1/2, 1-1/2, ½, 1½), decimals after a point,
// thousands parted by commas or by any kind of space, and US or metric units in
// any case. A number without its unit is an error, never a guess, and so is one
// that elsewhere means a thousand times more or less: 1.902 m as a height, where
// 1 902 m may be meant, or 1,125 tsp as an amount, where 1.125 tsp may be. Every
// error is an *Error that names the place and what was expected there.
//
// Conversion factors are those of NIST Special Publication 811 (2008) and NIST
// Handbook 44, Appendix C: 25.4 mm to the inch and 0.3048 m to the foot,
// exactly; 4.92892159375 ml to the US teaspoon, exactly; 6.894757 kPa to the
// psi; °F = 1.8 °C + 32, exactly.
package measure
