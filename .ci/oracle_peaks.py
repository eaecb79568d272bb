#!/usr/bin/python3
"""Areas and positions of peaks, with their uncertainties, against a general least-squares library.

Draws Kα doublets of known pseudo-Voigt shape on a flat background with Poisson noise, lets the program find and fit them, fits the
same model (area, position, width, mixing and a level for each line) with scipy.optimize.least_squares, and compares. The program knows
the background from the whole scan, the library only from 2.5° on both sides; mixing and level trade with area, so that the two estimates
are not of quite the same information. They must differ by less than one standard uncertainty everywhere and 0.3 on average, and state
uncertainties within 30 %, on average within 10 %.

Usage: oracle_peaks.py PROGRAM
"""
import json
import subprocess
import sys
import tempfile

import numpy as np
from scipy.optimize import least_squares

KA1, KA2, RATIO = 1.54059291, 1.54442740, 0.5
LINES = [(25.3, 220.0), (31.7, 60.0), (38.9, 700.0), (47.2, 25.0), (56.4, 150.0), (66.1, 90.0), (75.8, 400.0)]  # 2θ, area
LEVEL, FWHM, ETA = 60.0, 0.11, 0.4


def pseudo_voigt(x, fwhm, eta):
    t = x / fwhm
    gauss = 2 / fwhm * np.sqrt(np.log(2) / np.pi) * np.exp(-4 * np.log(2) * t * t)
    return eta * 2 / np.pi / fwhm / (1 + 4 * t * t) + (1 - eta) * gauss


def doublet(x, centre, fwhm, eta):
    partner = 2 * np.degrees(np.arcsin(np.sin(np.radians(centre / 2)) * KA2 / KA1))
    return (pseudo_voigt(x - centre, fwhm, eta) + RATIO * pseudo_voigt(x - partner, fwhm, eta)) / (1 + RATIO)


def fit(x, y, centre, area):
    """Area, position and their standard uncertainties, weighted with the model's own variance."""
    p = np.array([area, centre, FWHM, ETA, LEVEL])
    for _ in range(5):
        model = lambda q: q[0] * doublet(x, q[1], q[2], q[3]) + q[4]
        sigma = np.sqrt(np.maximum(model(p), 1))
        r = least_squares(lambda q: (y - model(q)) / sigma, p, x_scale=[area, 0.01, 0.01, 0.1, LEVEL], xtol=1e-12, ftol=1e-12)
        p = r.x
    u = np.sqrt(np.diag(np.linalg.inv(r.jac.T @ r.jac)))
    return p[0], u[0], p[1], u[1]


def main():
    program = sys.argv[1]
    x = np.round(np.arange(20, 82, 0.02), 4)
    values, ratios = [], []
    for seed in range(4):
        y = np.full(len(x), LEVEL)
        for centre, area in LINES:
            y = y + area * doublet(x, centre, FWHM, ETA)
        y = np.random.default_rng(seed).poisson(y)
        with tempfile.NamedTemporaryFile('w', suffix='.xy') as f:
            f.write('# radiation: Cu\n' + ''.join('%.4f %d\n' % p for p in zip(x, y)))
            f.flush()
            out = json.loads(subprocess.run([program, 'peaks', f.name, '--format', 'json'], check=True, capture_output=True, text=True).stdout)
        for centre, area in LINES:
            found = [p for p in out['peaks'] if abs(p['two_theta'] - centre) < 0.1]
            if len(found) != 1:
                sys.exit('seed %d: %d peaks at %g' % (seed, len(found), centre))
            near = abs(x - centre) < 2.5
            a, ua, t, ut = fit(x[near], y[near], centre, area)
            values += [abs(found[0]['area'] - a) / ua, abs(found[0]['two_theta'] - t) / ut]
            ratios += [found[0]['area_u'] / ua, found[0]['two_theta_u'] / ut]
    values, ratios = np.array(values), np.array(ratios)
    print('%d areas and positions of %d lines: largest difference %.2f u, mean %.2f u; uncertainties %.2f to %.2f of the library, mean %.2f'
          % (len(values), len(LINES), values.max(), values.mean(), ratios.min(), ratios.max(), ratios.mean()))
    if values.max() > 1 or values.mean() > 0.3 or ratios.min() < 0.7 or ratios.max() > 1.3 or abs(ratios.mean() - 1) > 0.1:
        sys.exit('the fits do not agree')


if __name__ == '__main__':
    main()
