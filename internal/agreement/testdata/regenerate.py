#!/usr/bin/env python3
"""Recomputes scipy.json with scipy, a library that shares nothing with the Go code.

Debian: apt-get install python3-scipy; then, in this folder: /usr/bin/python3 regenerate.py > scipy.json
The committed file was made with scipy 1.10.1. The pairs are made here by a fixed congruential generator, in tenths of mg/dL.

What is computed: least squares (linregress, and t for the intervals); the interval of a mean difference (ttest_1samp);
Deming for two error ratios (scipy.odr with constant weights); Passing-Bablok as the Theil-Sen slope of the pairs turned by
45 degrees (theilslopes), with an odd number of slopes; exact binomial intervals (binomtest); Kolmogorov's tail (kstwobign).
"""
import json

import numpy as np
from scipy import odr, stats


def generator(state):
    while True:
        state = (1103515245 * state + 12345) % 2**31
        yield state / 2**31


def pairs(n, state):
    draw = generator(state)
    x, y = [], []
    for _ in range(n):
        level = 50 + 350 * next(draw)
        x.append(round(level * (1 + 0.06 * (next(draw) - 0.5)), 1))
        y.append(round((level * 0.97 + 5) * (1 + 0.2 * (next(draw) - 0.5)), 1))
    return x, y


def deming(x, y, ratio):
    """Orthogonal distance regression with error variances ratio (of x) and 1 (of y)."""
    model = odr.Model(lambda b, v: b[0] + b[1] * v)
    data = odr.RealData(x, y, sx=np.full(len(x), np.sqrt(ratio)), sy=np.ones(len(x)))
    fit = odr.ODR(data, model, beta0=[0.0, 1.0], sstol=1e-15, partol=1e-15, maxit=1000).run()
    return {"intercept": fit.beta[0], "slope": fit.beta[1]}


def case(n, state):
    x, y = pairs(n, state)
    ax, ay = np.array(x), np.array(y)
    fit = stats.linregress(ax, ay)
    t = stats.t.ppf(0.975, n - 2)
    d = ay - ax
    half = stats.t.ppf(0.975, n - 1) * d.std(ddof=1) / np.sqrt(n)
    # In whole tenths, so that sums and ties are exact.
    ix, iy = np.rint(ax * 10).astype(np.int64), np.rint(ay * 10).astype(np.int64)
    u, v = ix + iy, iy - ix
    slopes = (v[:, None] - v[None, :])[np.triu_indices(n, 1)], (u[:, None] - u[None, :])[np.triu_indices(n, 1)]
    used = int(np.count_nonzero(slopes[1]))
    turned = stats.theilslopes(v, u).slope
    return {
        "x": x,
        "y": y,
        "ols": {
            "slope": [fit.slope, fit.stderr, fit.slope - t * fit.stderr, fit.slope + t * fit.stderr],
            "intercept": [
                fit.intercept,
                fit.intercept_stderr,
                fit.intercept - t * fit.intercept_stderr,
                fit.intercept + t * fit.intercept_stderr,
            ],
        },
        "bias": [d.mean(), d.std(ddof=1), d.mean() - half, d.mean() + half],
        "deming1": deming(ax, ay, 1.0),
        "deming025": deming(ax, ay, 0.25),
        "passing_bablok": {"used": used, "slope": (1 + turned) / (1 - turned) if used % 2 else None},
    }


def main():
    out = {"cases": [case(n, state) for n, state in ((11, 2), (31, 10), (102, 3), (211, 5))], "binomial": [], "kolmogorov": []}
    for x, n in ((0, 1), (1, 1), (0, 20), (20, 20), (1, 29), (15, 148), (81, 263), (950, 1000), (99, 100), (199999, 200000)):
        ci = stats.binomtest(x, n).proportion_ci(0.95, "exact")
        out["binomial"].append([x, n, ci.low, ci.high])
    for s in (0.3, 0.5, 0.8276, 0.9999, 1.0, 1.0001, 1.3581, 1.6276, 2.5):
        out["kolmogorov"].append([s, stats.kstwobign.sf(s)])
    print(json.dumps(out, indent=1))


main()
