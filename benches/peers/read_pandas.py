"""Reads a capture with pandas into one numpy array per column; prints seconds and peak kB."""

import resource
import sys
import time

import numpy as np
import pandas as pd

started = time.perf_counter()
frame = pd.read_csv(sys.argv[1])
columns = [frame[name].to_numpy() for name in frame.columns]
assert all(np.isfinite(column).all() for column in columns)
assert (np.diff(columns[0]) > 0).all()
seconds = time.perf_counter() - started
print(seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
