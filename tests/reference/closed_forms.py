"""Reference values for src/verdict/tests/closed_forms.rs.

Densities of a reading whose amount is integrated over, by numerical quadrature
(scipy.integrate.quad), and joint normals (scipy.stats.multivariate_normal).
Run: python3 tests/reference/closed_forms.py
"""
import numpy as np
from scipy import integrate, stats


def convolved(prior, low, high, x, s):
    """∫ prior(a) N(x − a; 0, s²) da, split where the normal is."""
    points = sorted(p for p in {x - 6 * s, x, x + 6 * s} if low < p < high)
    value, _ = integrate.quad(
        lambda a: prior(a) * stats.norm.pdf(x - a, 0, s), low, high,
        points=points or None, epsabs=0, epsrel=1e-12, limit=400)
    return np.log(value)


print("even")
for low, high, x, s in [(-50, -5, -30, 1.5), (-50, -5, -2, 1.5), (0, 50, 52, 2.0), (5, 12, 30, 1.2)]:
    print(low, high, x, s, repr(float(convolved(lambda a: 1 / (high - low), low, high, x, s))))

print("fading")
for low, high, mean, x, s in [(5, 14, 4, 9, 1.5), (0, 5, 2, -1, 1.0), (0, 14, 4, 22, 1.7), (0, 14, 4, -6, 1.0)]:
    d = stats.truncexpon(b=(high - low) / mean, loc=low, scale=mean)
    print(low, high, mean, x, s, repr(float(convolved(d.pdf, low, high, x, s))))

print("between")
for a, b in [(-1, 1), (5, 6), (-9, -8), (30, 31), (-3, 40)]:
    # log of the difference of survival functions, without cancellation
    hi, lo = stats.norm.logsf(max(a, -b) if a + b < 0 else a), stats.norm.logsf(-a if a + b < 0 else b)
    hi, lo = max(hi, lo), min(hi, lo)
    print(a, b, repr(float(hi + np.log1p(-np.exp(lo - hi)))))

print("joint: variance 1.2, 0.8, 2.0; shared (1,1,1) sd 1.5, (0,1,1) sd 0.7")
cov = np.diag([1.2, 0.8, 2.0]) + 1.5**2 * np.ones((3, 3)) + 0.7**2 * np.outer([0, 1, 1], [0, 1, 1])
x = np.array([1.0, -2.0, 3.5])
print(repr(float(stats.multivariate_normal.logpdf(x, np.zeros(3), cov))))
print("joint with an amount U(0, 20) along (1, 0, 1)")
v, _ = integrate.quad(lambda a: stats.multivariate_normal.pdf(x - a * np.array([1, 0, 1]), np.zeros(3), cov) / 20,
                      0, 20, epsabs=0, epsrel=1e-12)
print(repr(float(np.log(v))))
y = np.array([-20.0, 1.0, 3.5])
own = lambda b, a: stats.multivariate_normal.pdf(y - b * np.array([1, 0, 0]) - a, np.zeros(3), cov) / 25
print("(-20, 1, 3.5) with own amount U(-30, -5) on the first")
v, _ = integrate.quad(lambda b: own(b, 0.0), -30, -5, points=[-20], epsabs=0, epsrel=1e-12)
print(repr(float(np.log(v))))
print("... and Exp(4) cut at 14 along (1, 1, 1)")
d = stats.truncexpon(b=14 / 4, loc=0, scale=4)
v, _ = integrate.dblquad(lambda b, a: own(b, a) * d.pdf(a), 0, 14, -30, -5, epsabs=1e-14, epsrel=1e-9)
print(repr(float(np.log(v))))
