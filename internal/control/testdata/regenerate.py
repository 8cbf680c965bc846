"""Recomputes expected values that the tests of this package compare with, by other means than the Go code.

Needs numpy and scipy; the figures of run_lengths also need R with its package spc.
Debian: apt-get install python3-numpy python3-scipy r-cran-spc. Run: /usr/bin/python3 regenerate.py, in this folder.
"""
import json
import subprocess

import numpy as np


def dump(name, source, **rest):
    with open(name + ".json", "w", encoding="utf-8") as f:
        json.dump({"source": source, **rest}, f, indent=1)
        f.write("\n")


def indicator(keys):
    names = sorted(set(keys))
    return np.array([[1.0 if k == n else 0.0 for n in names] for k in keys])


def projection(x):
    return x @ np.linalg.pinv(x)


def nested(rows):
    """Type 1 quadratic forms from projection matrices; expectations as traces. Nothing is summed by hand."""
    y = np.array([r[2] for r in rows], float)
    one, day, run = np.ones((len(y), 1)), indicator([r[0] for r in rows]), indicator([(r[0], r[1]) for r in rows])
    p1, pd, pr = projection(one), projection(day), projection(run)
    forms = [pd - p1, pr - pd, np.eye(len(y)) - pr]
    df = np.array([round(np.trace(q)) for q in forms], float)
    ms = np.array([y @ q @ y for q in forms]) / df
    covariances = [day @ day.T, run @ run.T, np.eye(len(y))]
    expect = np.array([[np.trace(q @ v) / d for v in covariances] for q, d in zip(forms, df)])
    inverse = np.linalg.inv(expect)
    est = inverse @ ms
    kept = sum(inverse[i] for i in range(3) if est[i] >= 0)
    total = kept @ ms
    return {"day": est[0], "run": est[1], "error": est[2], "total": total, "df": total**2 / np.sum((kept * ms) ** 2 / df)}


def precision():
    rng = np.random.default_rng(20251004)
    cases = []
    for name, days, sd_day, sd_run, sd_error in [
        ("all positive", 6, 4, 3, 2), ("no day effect", 8, 0, 2, 4), ("no run effect", 8, 4, 0, 4),
        ("error alone", 6, 0, 0, 4), ("error alone again", 7, 0, 0, 4), ("two days", 2, 5, 2, 2),
    ]:
        rows = []
        for d in range(days):
            off = rng.normal(0, sd_day)
            for r in range(int(rng.integers(1, 4))):
                shift = rng.normal(0, sd_run)
                for _ in range(int(rng.integers(1, 5))):
                    rows.append([d + 1, r + 1, int(round(120 + off + shift + rng.normal(0, sd_error)))])
        cases.append({"name": name, "rows": rows, **nested(rows)})
    dump("own_precision_unbalanced", "computed by regenerate.py (numpy): projection matrices and traces", cases=cases)


R = """
suppressMessages(library(spc)); options(digits=12)
cat("{")
cat('"ewma_vacl":['); first <- TRUE
for (p in list(c(.1,2.814),c(.2,2.962),c(.4,3.054))) for (s in c(0,.5,1,2)) {
 if (!first) cat(","); first <- FALSE
 cat(sprintf("[%g,%g,%g,%.10g]", p[1], p[2], s, xewma.arl(p[1], p[2], s, sided="two", limits="vacl", r=60))) }
cat('],"ewma_sf":['); first <- TRUE
for (l in c("fix","vacl")) for (p in list(c(.1,2.814),c(.2,2.962))) for (s in c(0,1)) {
 sf <- xewma.sf(p[1], p[2], s, 200, sided="two", limits=l, r=60)
 for (n in c(1,5,20,100,200)) { if (!first) cat(","); first <- FALSE
 cat(sprintf('["%s",%g,%g,%g,%d,%.10g]', l, p[1], p[2], s, n, sf[n])) } }
cat('],"cusum_one_sf":['); first <- TRUE
for (h in c(4,5)) for (s in c(0,1)) { sf <- xcusum.sf(.5, h, s, 200, sided="one", r=60)
 for (n in c(1,5,20,100,200)) { if (!first) cat(","); first <- FALSE
 cat(sprintf("[%g,%g,%d,%.10g]", h, s, n, sf[n])) } }
cat('],"ewma_quantile":['); first <- TRUE
for (s in c(0,1)) for (a in c(.1,.5,.9)) { if (!first) cat(","); first <- FALSE
 cat(sprintf("[0.1,2.814,%g,%g,%d]", s, a, as.integer(ceiling(xewma.q(.1, 2.814, s, a, sided="two", r=60))))) }
cat("]}")
"""


def two_sided_cusum(k, h, shift, runs, rng, upto):
    """Survival of a two-sided CUSUM by plain simulation."""
    up, down, alive, out = np.zeros(runs), np.zeros(runs), np.ones(runs, bool), []
    for _ in range(upto):
        x = rng.normal(shift, 1, runs)
        up, down = np.maximum(0, up + x - k), np.maximum(0, down - x - k)
        alive &= (up <= h) & (down <= h)
        out.append(alive.mean())
    return out


def run_lengths():
    values = json.loads(subprocess.run(["Rscript", "-e", R], check=True, capture_output=True, text=True).stdout)
    rng, runs, two = np.random.default_rng(1990), 400000, []
    for h, shift in [(4, 0), (4, 1), (5, 0)]:
        sf = two_sided_cusum(0.5, h, shift, runs, rng, 200)
        two += [[h, shift, n, float(sf[n - 1])] for n in (5, 20, 100, 200)]
    dump("own_run_lengths", "R package spc (r = 60 nodes) and, for two sides of a CUSUM, %d simulated series (numpy)" % runs,
         cusum_two_simulated=two, simulated=runs, **values)


if __name__ == "__main__":
    precision()
    run_lengths()
