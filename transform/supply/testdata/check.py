#!/usr/bin/env python3
"""Makes numpy_values.json: percentiles of binned voltages, unbalance by
symmetrical components, exact intervals and the spread of a supply effect,
worked out with numpy and scipy alone. Run in this folder."""
import json
import numpy as np
from scipy import stats

r = np.random.default_rng(8)
out = {}
# 2,000 readings of one hour, in half-volt bins; each bin's readings are laid out
# evenly over the bin, so numpy's percentile of them is the binned one.
v = np.floor((r.normal(210, 3, 2000)) / .5) * .5 + .25
mid, n = np.unique(v, return_counts=True)
edge = np.concatenate([[mid[0] - .25], mid + .25])
cum = np.concatenate([[0], np.cumsum(n)]) / n.sum()
assert np.allclose(np.diff(mid), .5)
q = lambda p: float(np.interp(p, cum, edge))
below = int(n[mid < 205].sum())
k = 2000 * .5
out["hist"] = dict(mid=mid.tolist(), n=n.tolist(), p5=q(.05), median=q(.5), p95=q(.95), below205=below / 2000,
    median_lo=q(stats.beta.ppf(.025, k, 2000 - k + 1)), median_hi=q(stats.beta.ppf(.975, k + 1, 2000 - k)),
    below_lo=float(stats.beta.ppf(.025, below, 2000 - below + 1)), below_hi=float(stats.beta.ppf(.975, below + 1, 2000 - below)))
# unbalance: invented phase voltages with known sequence components
cases = []
a = np.exp(2j * np.pi / 3)
for _ in range(6):
    e = 277 * np.array([1, a**2, a]) * (1 + .04 * r.standard_normal(3)) * np.exp(1j * .03 * r.standard_normal(3))
    ll = np.array([e[0] - e[1], e[1] - e[2], e[2] - e[0]])
    pos, neg = (ll[0] + a * ll[1] + a**2 * ll[2]) / 3, (ll[0] + a**2 * ll[1] + a * ll[2]) / 3
    m = np.abs(ll)
    cases.append(dict(ll=m.tolist(), negative=float(100 * abs(neg) / abs(pos)), nema=float(100 * np.max(np.abs(m - m.mean())) / m.mean())))
out["unbalance"] = cases
# effect: ratio of two normal voltages to a normal power, by a million draws
c, v0, v1 = r.normal(1.5, .3, 10**6), r.normal(240, 1, 10**6), r.normal(228, 1, 10**6)
x = c * np.log(v1 / v0)
out["effect"] = dict(centre=float((228 / 240) ** 1.5), lo=float(np.exp(np.quantile(x, .025))), hi=float(np.exp(np.quantile(x, .975))))
json.dump(out, open("numpy_values.json", "w"), indent=1)
