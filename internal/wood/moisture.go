package wood

import (
	"fmt"
	"math"

	"bondtrial"
)

// Range of climates that Equilibrium takes: the one over which its equation was
// compared with the table for degrees Fahrenheit (30 to 140 °F).
const (
	MinTemperature = -1.2 // °C
	MaxTemperature = 60.0 // °C
)

// Equilibrium returns the moisture content, in percent of the dry mass, that
// wood takes on in air of a temperature in °C and a relative humidity in
// percent, if it stays there long enough. It is 0 at humidity 0.
//
// It is the two-hydrate sorption equation with h the humidity as a fraction,
//
//	EMC = 1800/W · [ K·h/(1 - K·h) + (K1·K·h + 2·K1·K2·K²·h²)/(1 + K1·K·h + K1·K2·K²·h²) ]
//
// and coefficients that are quadratic in the temperature (FPL-RN-0268; read in a
// public function for degrees Celsius that cites it). Against the form for
// degrees Fahrenheit it differs by 0.013 points at most. The equation itself
// was fitted with a mean deviation under 0.13 and never above 0.9 points (read
// in the abstract of the fitting paper); wood that dries keeps a point or so more
// than wood that takes up water (common knowledge, no source). Above 95 % it was
// not compared with anything.
//
// A temperature outside MinTemperature to MaxTemperature, a humidity outside 0 to
// 100, and NaN are errors.
func Equilibrium(celsius float64, humidity bondtrial.Percent) (bondtrial.Percent, error) {
	if !(celsius >= MinTemperature && celsius <= MaxTemperature) {
		return 0, fmt.Errorf("temperature %.4g °C is outside %g to %g °C, where the moisture equation was checked", celsius, MinTemperature, MaxTemperature)
	}
	if !(humidity >= 0 && humidity <= 100) {
		return 0, fmt.Errorf("relative humidity %.4g %% is outside 0 to 100 %%", float64(humidity))
	}
	t, h := celsius, float64(humidity)/100
	w := 349 + 1.29*t + 0.0135*t*t
	k := 0.805 + 0.000736*t - 0.00000273*t*t
	k1 := 6.27 - 0.00938*t - 0.000303*t*t
	k2 := 1.91 + 0.0407*t - 0.000293*t*t
	kh := k * h
	a, b := k1*kh, k1*k2*kh*kh
	return bondtrial.Percent(1800 / w * (kh/(1-kh) + (a+2*b)/(1+a+b))), nil
}

// MaxMoisture is the highest moisture content that is taken, percent of the dry
// mass. Fresh sapwood of light species comes near it (common knowledge, no
// source).
const MaxMoisture bondtrial.Percent = 300

// AtMoisture returns a strength at a moisture content between green and dry,
//
//	P = P12 · (P12/Pg)^((12 - M)/(Mp - 12))   below Mp, and Pg from Mp on
//
// (Wood Handbook, FPL-GTR-282, equation 5-3), with p12 the strength at 12 %, green
// that above mp, and mp and moisture in percent of the dry mass. The handbook
// does not use it for work to maximum load, impact bending or tension across
// the grain. Towards 0 % it extrapolates: the values it rests on are those at
// 12 % and green, and very dry wood may lose strength again (common knowledge, no
// source).
//
// A moisture content that is NaN, below 0 or above MaxMoisture is an error.
// Strengths that are not finite and positive, or an mp that is not above 12, are
// the caller's mistake and panic.
func AtMoisture(p12, green bondtrial.Megapascal, mp, moisture bondtrial.Percent) (bondtrial.Megapascal, error) {
	if !(p12 > 0 && green > 0) || math.IsInf(float64(p12), 0) || math.IsInf(float64(green), 0) {
		panic("wood: strength not finite and positive")
	}
	if !(mp > 12) {
		panic("wood: intersection moisture content not above 12")
	}
	if !(moisture >= 0 && moisture <= MaxMoisture) {
		return 0, fmt.Errorf("moisture content %.4g %% is outside 0 to %g %%", float64(moisture), float64(MaxMoisture))
	}
	if moisture >= mp {
		return green, nil
	}
	return p12 * bondtrial.Megapascal(math.Pow(float64(p12/green), float64((12-moisture)/(mp-12)))), nil
}

// Shear returns the shear strength parallel to the grain at a moisture content in
// percent of the dry mass; see [AtMoisture] for the equation and the errors.
func (s Species) Shear(moisture bondtrial.Percent) (bondtrial.Megapascal, error) {
	return AtMoisture(s.Shear12, s.ShearGreen, s.Intersection, moisture)
}
