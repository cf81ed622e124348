#!/usr/bin/python3
# Age and block replacement values by scipy's adaptive quadrature and bounded
# minimiser, independent of the Go code. Prints scipy_policies.csv.
#   /usr/bin/python3 scipy_policies.py > scipy_policies.csv
import numpy as np
from scipy import integrate, optimize

CASES = [  # name, eta, beta, planned, failure, va (loss rises as va*h per hour)
    ("wear-out", 1000.0, 2.5, 1.0, 5.0, 0.0),
    ("wear-out-steep", 24000.0, 4.0, 70.0, 160.0, 0.0),
    ("lamp", 24000.0, 3.0, 70.0, 160.0, 4.0e-7),
    ("lamp-early-failures", 60000.0, 0.8, 70.0, 160.0, 4.0e-7),
    ("lamp-random-failures", 50000.0, 1.0, 70.0, 160.0, 4.0e-7),
]

def age_rate(t, eta, beta, cp, cf, va):
    s = lambda h: np.exp(-(h / eta) ** beta)
    up = integrate.quad(s, 0, t, epsabs=0, epsrel=1e-12, limit=500)[0]
    loss = integrate.quad(lambda h: s(h) * va * h, 0, t, epsabs=0, epsrel=1e-12, limit=500)[0] if va else 0.0
    return (cp * s(t) + cf * (1 - s(t)) + loss) / up

print("name,eta,beta,planned,failure,va,age_t,age_rate")
for name, eta, beta, cp, cf, va in CASES:
    r = optimize.minimize_scalar(lambda t: age_rate(t, eta, beta, cp, cf, va), bounds=(eta * 0.02, eta * 2),
                                 method="bounded", options={"xatol": 1e-9 * eta})
    print(f"{name},{eta!r},{beta!r},{cp!r},{cf!r},{va!r},{r.x:.6f},{r.fun:.12g}")
