#!/usr/bin/env python3
"""Makes numpy_values.json: the numbers of two invented surveys and of one
comparison, worked out with numpy and scipy alone. Run in this folder."""
import json
import numpy as np
from scipy import stats

out = {}
r = np.random.default_rng(8)
y, x = np.mgrid[-2:3, -2:3]
a = np.round(900 * np.exp(-(x**2 + y**2) / 14.0) * (1 + .01 * r.standard_normal((5, 5))) + 6 * x, 1)
b = np.round(a * .93 * (1 + .012 * r.standard_normal((5, 5))), 1)
b[0, 4] = round(float(b[0, 4] * .85), 1)
edge = np.ones((5, 5), bool)
edge[1:-1, 1:-1] = False
tot = a.sum()
out["a"], out["b"] = a.tolist(), b.tolist()
out["numbers"] = dict(
    average=a.mean(), min=a.min(), max=a.max(), min_avg=a.min() / a.mean(), min_max=a.min() / a.max(),
    max_avg=a.max() / a.mean(), cv=a.std(ddof=1) / a.mean(), perimeter=a[edge].mean(), interior=a[~edge].mean(),
    perimeter_spots=int(edge.sum()), centre_x=float((a * x).sum() / tot * .25), centre_y=float((a * y).sum() / tot * .25),
    # 1 % repeat, 2.5 % sensor, 0.5 % hang, 0.7 % occasion
    average_sd=float(np.sqrt((.01**2) * (a**2).sum() / 625 + (a.mean() * np.sqrt(.025**2 + .005**2 + .007**2))**2)),
    footprint=float(a.mean() * 1.25 * 1.25), dli=float(a.mean() * 16 * .0036))
l = np.log(b / a)
ss = ((l - l.mean())**2).sum()
noise = 2 * .01**2
out["change"] = dict(level=float(np.exp(l.mean())), average=b.sum() / a.sum(), rms_pct=float(100 * l.std(ddof=1)),
    p_chi2=float(stats.chi2.sf(ss / noise, 24)), p_f12=float(stats.f.sf(ss / 24 / noise, 24, 12)))
# uneven grid, 4 rows x 6 columns, positions in metres; the floor reaches as far
# beyond the outermost spots as half way to their neighbours
ry, cx = np.array([0, .2, .6, 1.2]), np.array([0, .1, .3, .6, 1.0, 1.5])
def strips(p):
    e = np.concatenate([[p[0] - (p[1] - p[0]) / 2], (p[1:] + p[:-1]) / 2, [p[-1] + (p[-1] - p[-2]) / 2]])
    return np.diff(e)
w = np.outer(strips(ry), strips(cx))
g = np.round(400 + 300 * r.random((4, 6)), 0)
out["uneven"] = dict(rows=ry.tolist(), cols=cx.tolist(), grid=g.tolist(), area=float(w.sum()),
    area_average=float((g * w).sum() / w.sum()), plain=float(g.mean()))
# repeats: two-way residual
k = np.exp(np.log(a)[None] + .01 * r.standard_normal((4, 5, 5)) + .02 * r.standard_normal(4)[:, None, None])
k = np.round(k, 2)
L = np.log(k).reshape(4, 25)
res = L - L.mean(0) - L.mean(1)[:, None] + L.mean()
df = 3 * 24
s2 = (res**2).sum()
out["repeat"] = dict(rounds=k.tolist(), pct=float(100 * np.sqrt(s2 / df)), lo=float(100 * np.sqrt(s2 / stats.chi2.ppf(.975, df))),
    hi=float(100 * np.sqrt(s2 / stats.chi2.ppf(.025, df))))
# drift a year
t = np.array([0, .5, 1.1, 2.0, 3.2])
v = np.array([700, 694, 688, 671, 657.0])
f = stats.linregress(t, np.log(v))
h = stats.t.ppf(.975, 3) * f.stderr
out["slope"] = dict(years=t.tolist(), values=v.tolist(), pct=float(100 * np.expm1(f.slope)), lo=float(100 * np.expm1(f.slope - h)), hi=float(100 * np.expm1(f.slope + h)))
json.dump(out, open("numpy_values.json", "w"), indent=1)
