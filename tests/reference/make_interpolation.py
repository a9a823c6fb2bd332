"""Reference values for src/crank/interpolate.rs, from SciPy.

Run: python3 tests/reference/make_interpolation.py > tests/reference/interpolation.csv
Made with SciPy 1.17.1 (PchipInterpolator, CubicSpline with bc_type "not-a-knot").
The knots are tooth times of a crank that slows and recovers, with a missing-tooth gap.
"""
import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

angle = np.array([0, 10, 20, 30, 40, 50, 80, 90, 100, 110, 120], float)
# 1200 degrees a second with a third-order ripple of +-12 %.
time = np.round(angle / 1200 - 0.12 * np.sin(np.radians(3 * angle)) / np.radians(1) / 3 / 1200, 6)
at = np.linspace(time[0], time[-1], 41)
pchip, spline = PchipInterpolator(time, angle), CubicSpline(time, angle)
print("kind,x,y")
for t, a in zip(time, angle):
    print(f"knot,{t!r},{a!r}".replace("np.float64(", "").replace(")", ""))
for t in at:
    print(f"pchip,{float(t)!r},{float(pchip(t))!r}")
    print(f"spline,{float(t)!r},{float(spline(t))!r}")
