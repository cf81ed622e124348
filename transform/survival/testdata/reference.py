#!/usr/bin/env python3
"""Reference values made with numpy and scipy, apart from the R ones.
Run with a Python that has scipy, after reference.R, in this folder.

weibull_scipy.csv  Weibull fits with left truncation and right censoring by a general
                   optimiser (Nelder-Mead, then BFGS) on the log-likelihood as
                   written down; errors from a numerical Hessian; B10 limits
                   by the likelihood ratio with a root finder
beta_scipy.csv     quantiles of products of beta variables by simulation (2e6 draws, fixed seed)
"""
import csv
import numpy as np
from scipy import optimize, stats

units = list(csv.DictReader(open("units.csv")))

def nll(th, e, x, d):
    L, b = th
    k = np.exp(b)
    with np.errstate(all="ignore"):
        v = -(np.sum(d * (b + k * (np.log(x) - L) - np.log(x))) - np.sum((x / np.exp(L)) ** k - (e / np.exp(L)) ** k))
    return v if np.isfinite(v) else 1e30

def hessian(f, th, h=1e-4):
    H = np.zeros((2, 2))
    for i in range(2):
        for j in range(2):
            s = 0
            for a in (-1, 1):
                for c in (-1, 1):
                    t = np.array(th); t[i] += a * h; t[j] += c * h
                    s += a * c * f(t)
            H[i, j] = s / (4 * h * h)
    return H

with open("weibull_scipy.csv", "w") as out:
    print("set,group,eta,beta,loglik,se_log_eta,se_log_beta,b10,b10_lo,b10_hi,beta_lo,beta_hi", file=out)
    for s in ("nist8413", "aml", "ovarian", "veteran", "truncated", "mixed"):
        for g in sorted({u["group"] for u in units if u["set"] == s}):
            r = [u for u in units if u["set"] == s and u["group"] == g]
            e = np.array([float(u["entry"]) for u in r]); x = np.array([float(u["exit"]) for u in r]); d = np.array([float(u["failed"]) for u in r])
            f = lambda th: nll(th, e, x, d)
            o = optimize.minimize(f, [np.log(x.mean()), 0.2], method="Nelder-Mead", options=dict(xatol=1e-11, fatol=1e-12, maxiter=20000, maxfev=20000))
            L, b = o.x
            V = np.linalg.inv(hessian(f, o.x))
            c = -np.log(.9); q10 = L + np.log(c) / np.exp(b)
            cut = stats.chi2.ppf(.95, 1) / 2
            def prof(q):  # best over b with t10 = exp(q)
                h = lambda bb: f([q - np.log(c) / np.exp(bb), bb])
                grid = b + np.arange(-4, 2, .05)
                k0 = grid[np.argmin([h(v) for v in grid])]
                m = optimize.minimize_scalar(h, bounds=(k0 - .1, k0 + .1), method="bounded", options=dict(xatol=1e-10))
                return m.fun - o.fun - cut

            lo = optimize.brentq(prof, q10 - (5 if prof(q10 - 5) > 0 else 25), q10); hi = optimize.brentq(prof, q10, q10 + 3)
            def profb(bb):
                k = np.exp(bb); sc = np.sum(x ** k - e ** k) / d.sum()
                return f([np.log(sc) / k, bb]) - o.fun - cut
            blo = optimize.brentq(profb, b - 3, b); bhi = optimize.brentq(profb, b, b + 3)
            print(s, g, *("%.10g" % v for v in (np.exp(L), np.exp(b), -o.fun, V[0, 0] ** .5, V[1, 1] ** .5, np.exp(q10), np.exp(lo), np.exp(hi), np.exp(blo), np.exp(bhi))), sep=",", file=out)

# Beta products of a curve with failures of 1 at 20, 17, 11 and 2 at 8 under
# watch; after them 5 remain under watch. Mid-p limits: quantiles of the even mixture.
rng = np.random.default_rng(20251)
N = 2_000_000
up = np.ones(N)
with open("beta_scipy.csv", "w") as out:
    print("at_risk,failed,left,lo,hi", file=out)
    for n, dd, left in ((20, 1, 19), (17, 1, 16), (11, 1, 10), (8, 2, 5)):
        up = up * rng.beta(n - dd + 1, dd, N)
        low = up * rng.beta(left, 1, N)
        mix = np.concatenate([up, low])
        print(n, dd, left, "%.5f" % np.quantile(mix, .025), "%.5f" % np.quantile(mix, .975), sep=",", file=out)
