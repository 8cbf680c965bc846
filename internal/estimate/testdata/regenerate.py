"""Computes own_scipy.json again: intervals and tests by scipy, an implementation that shares nothing with ours.

    apt-get install python3-scipy
    python3 regenerate.py > own_scipy.json
"""
import json
import scipy
from scipy.stats import beta, binomtest, chisquare, norm

counts = [(0, 20), (1, 29), (15, 148), (81, 263), (20, 20), (499, 1000), (3, 100000)]
out = {"scipy": scipy.__version__, "exact": [], "two_sided": [], "evenness": [], "chance": []}
for x, n in counts:
    for confidence in (0.9, 0.95, 0.99):
        t = (1 - confidence) / 2
        low = 0.0 if x == 0 else beta.ppf(t, x, n - x + 1)
        high = 1.0 if x == n else beta.ppf(1 - t, x + 1, n - x)
        out["exact"].append([x, n, confidence, low, high])
for k, n, p in [(9, 19, 0.2), (10, 19, 0.2), (14, 19, 0.5), (0, 12, 0.2), (30, 60, 0.5), (2, 40, 0.2)]:
    out["two_sided"].append([k, n, p, binomtest(k, n, p).pvalue, binomtest(k, n, p, alternative="greater").pvalue])
for digits in ([12, 9, 11, 8, 10, 10, 9, 11, 10, 10], [34, 9, 11, 12, 13, 20, 11, 12, 12, 11]):
    statistic, p = chisquare(digits)
    out["evenness"].append({"digits": digits, "chi_square": statistic, "p": p})
for reading, limit, cv in [(118, 126, 0.04), (126, 126, 0.05), (190, 200, 0.1), (6.8, 7.0, 0.06)]:
    out["chance"].append([reading, limit, cv, norm.cdf((reading - limit) / (cv * reading)), norm.cdf((reading - limit) / (cv * limit))])
print(json.dumps(out, indent=1))
