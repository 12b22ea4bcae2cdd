# Tail functions and interval probabilities of the standard normal (n) and the
# standard smallest-extreme-value distribution (e), with derivatives, in 60-digit
# arithmetic. Run from the root of the repository:
#
#     python3 stat/censreg/testdata/tails.py > stat/censreg/testdata/tails.csv
#
# Rows "upper":    z, log S, h = f/S, (log h)'
# Rows "lower":    z, log F, r = f/F, (log r)'
# Rows "interval": zl, zh, log P, and the derivatives of log P as both ends are
#                  stretched by 1 + t and then moved by s, at s = t = 0:
#                  d/ds, d/dt, d2/ds2, d2/dsdt, d2/dt2
import mpmath
import sys
from mpmath import mp, mpf, exp, log, erfc, sqrt, diff, pi

mp.dps = 60
print("# made by tails.py with mpmath", mpmath.__version__, "on Python", sys.version.split()[0])
print("what,d,z,zh,v1,v2,v3,v4,v5,v6")


def density(d, z):
    return exp(-z * z / 2) / sqrt(2 * pi) if d == "n" else exp(z - exp(z))


def above(d, z):
    return erfc(z / sqrt(mpf(2))) / 2 if d == "n" else exp(-exp(z))


def below(d, z):
    return erfc(-z / sqrt(mpf(2))) / 2 if d == "n" else -mpmath.expm1(-exp(z))


def show(what, d, z, zh, *values):
    fields = [what, d, z, zh] + [mp.nstr(v, 20) for v in values]
    print(",".join(fields + ["0"] * (10 - len(fields))))


def slope(d, z):
    return -z if d == "n" else 1 - exp(z)


for d, points in (("n", "-40 -10 -3 -1 -0.1 0 0.5 1 2 3 3.4999 3.5 4 5 8 12 40 1000 100000".split()),
                  ("e", "-800 -40 -10 -5 -3 -2.99 -1 0 0.5 1 2 3 5".split())):
    for text in points:
        z = mpf(text)
        # 60 digits do not hold 1 - S or F - 1 far out
        mp.dps = 60 if abs(z) < 200 else 1200
        h = density(d, z) / above(d, z)
        r = density(d, z) / below(d, z)
        small = above(d, z)
        logS = log(small) if small < 0.5 else mpmath.log1p(-below(d, z))
        if abs(z) < 2000:
            show("upper", d, text, "0", logS, h, slope(d, z) + h)
        small = below(d, z)
        logF = log(small) if small < 0.5 else mpmath.log1p(-above(d, z))
        if z > -2000:
            show("lower", d, text, "0", logF, r, slope(d, z) - r)
        mp.dps = 60


def probability(d, a, b):
    if a > 0:
        return above(d, a) - above(d, b)
    return below(d, b) - below(d, a)


spans = ["-0.001 0.001", "-0.3 0.4", "0.1 0.10000001", "1 1.04", "1 1.2", "-2 1", "2 5", "3 3.2",
         "4 30", "7.5 7.6", "-9 -8.5", "-30 -4", "-6 6", "20 20.001", "-1 0.2", "-50 -0.5",
         "1000 1000.001", "-3000 -2999.999",
         "100000000 100000000.000000003", "-100000000.000000003 -100000000", "40 40.000000000000000002"]
for d in "ne":
    for text in spans:
        a, b = (mpf(v) for v in text.split())
        if d == "e" and not -900 < b <= 6 and a != 40:
            continue  # far above, the density is below 1e-175; far below, it is exp(z)
        mp.dps = 120

        def ell(s, t):
            return log(probability(d, a * (1 + t) + s, b * (1 + t) + s))

        zero = (mpf(0), mpf(0))
        values = [ell(*zero)] + [diff(ell, zero, k) for k in ((1, 0), (0, 1), (2, 0), (1, 1), (0, 2))]
        show("interval", d, text.split()[0], text.split()[1], *values)
        mp.dps = 60
