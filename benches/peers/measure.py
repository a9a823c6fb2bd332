"""Measures the demonstration engine's cams with pandas or polars, and numpy: read, edges, crank angle, deviations.

    python3 measure.py pandas|polars CAPTURE.csv

Prints seconds, peak kB and the two deviations in crank degrees. It knows this one engine, takes every tooth as seen, and
judges nothing: the least a person would write for the measurement alone.
"""

import importlib
import resource
import sys
import time

import numpy as np

library = importlib.import_module(sys.argv[1])


def edges(times, volts):
    """Times of rising and of falling edges, with a dead band about the middle."""
    low, high = volts.min(), volts.max()
    middle, band = (low + high) / 2, 0.25 * (high - low)
    clear = np.flatnonzero(np.abs(volts - middle) > band)
    up = volts[clear] > middle
    at = np.flatnonzero(up[1:] != up[:-1])
    before, after = clear[at], clear[at + 1]
    share = (middle - volts[before]) / (volts[after] - volts[before])
    when = times[before] + share * (times[after] - times[before])
    rising = up[at + 1]
    return when[rising], when[~rising]


def crank_angle(falling):
    """Tooth times and their angles, counted from the first tooth after a gap: 36 slots, two missing."""
    steps = np.diff(falling)
    gap = np.flatnonzero(steps[1:] > 2 * steps[:-1]) + 1
    first = gap + 1
    whole = np.flatnonzero(np.diff(first) == 34)
    turns = [(first[turn], turn) for turn in whole]
    index = np.concatenate([np.arange(at, at + 34) for at, _ in turns])
    angle = np.concatenate([turn * 360.0 + 10.0 * np.arange(34) for _, turn in turns])
    return falling[index], angle


def deviation(cam, teeth, at):
    """Median distance of the cam's edges from where they should be, for the datum pass that makes it least."""
    tooth_times, tooth_angles = teeth
    tries = []
    for turned in (0.0, 360.0):
        off = []
        for when, places in zip(cam, ((0, 90, 250), (30, 150, 265))):
            when = when[(when >= tooth_times[0]) & (when <= tooth_times[-1])]
            angle = np.interp(when, tooth_times, tooth_angles) + turned
            should = at + 2.0 * np.array(places)
            apart = (angle[:, None] - should[None, :] + 360.0) % 720.0 - 360.0
            off.append(apart[np.arange(len(apart)), np.abs(apart).argmin(axis=1)])
        tries.append(np.median(np.concatenate(off)))
    return min(tries, key=abs)


started = time.perf_counter()
frame = library.read_csv(sys.argv[2])
times, crank, first, second = (frame[name].to_numpy() for name in frame.columns[:4])
teeth = crank_angle(edges(times, crank)[1])
late = deviation(edges(times, first), teeth, 113.0), deviation(edges(times, second), teeth, 473.0)
seconds = time.perf_counter() - started
print(seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, *late)
