#!/usr/bin/env python3
"""Reference values for future, with numpy and scipy.
counts_scipy.csv  negative binomial law (Events); the Poisson binomial by its
                  discrete Fourier transform (Sum), chances p_i = (i+1/2)/n * top
"""
import numpy as np
from scipy import stats
with open("counts_scipy.csv", "w") as out:
    print("kind,a,b,c,k,cdf", file=out)
    for r, T, T2 in ((0, 1000, 500), (3, 1000, 1000), (40, 2000, 700), (12, 100, 900)):
        for k in (0, 1, 2, 5, 14, 30, 110):
            print("events", r, T, T2, k, "%.12g" % stats.nbinom.cdf(k, r + .5, T / (T + T2)), sep=",", file=out)
    for n, top in ((5, .9), (200, .3), (1000, .05), (2000, .2), (2000, 1.0)):
        p = (np.arange(n) + .5) / n * top
        w = 2 * np.pi / (n + 1)
        l = np.arange(n + 1)
        z = np.array([np.exp(np.sum(np.log1p(p * (np.exp(1j * w * a) - 1)))) for a in l])
        law = np.real(np.fft.fft(z)) / (n + 1)
        cdf = np.cumsum(law)
        m, s = p.sum(), np.sqrt((p * (1 - p)).sum())
        for k in sorted({max(0, min(n, int(round(m + d * s)))) for d in (-2.5, -1.5, -.5, 0, 1, 2, 3)}):
            print("sum", n, top, 0, k, "%.12g" % cdf[k], sep=",", file=out)
