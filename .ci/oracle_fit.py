#!/usr/bin/python3
"""The fit of a whole pattern against scipy.optimize.least_squares.

A test of xrd/pattern fits a simulated scan of three phases and hands the problem over: data, weights, starting values, priors, the lines with
their intensities and how far each is drawn. This script builds the documented model (the doc comment of xrd/pattern, DESIGN.md 4) anew with numpy
and scipy — cells, Bragg angles, widths, pseudo-Voigts, axial tail, thermal factor, B-splines — and minimises the same sum with
the same free parameters. It then demands the same sum of squares at the program's parameters and at its own minimum
(1e-6), parameters within 1 % of their standard uncertainty, the same covariance (1 %), and that the program was at least 30 times faster.

Usage: oracle_fit.py (from anywhere in the project; needs go, python3-numpy, python3-scipy)
"""
import json
import os
import subprocess
import sys
import tempfile
import time

import numpy as np
from scipy.interpolate import BSpline
from scipy.optimize import least_squares

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), '..')
TCH = [1, 2.69269, 2.42843, 4.47163, .07842, 1]  # Thompson, Cox & Hastings 1987
LEAST = {'W0': 1e-4, 'X': 0, 'Y': 0, 'axial': 0}  # widths stay widths; the minimum is not there
SAME_SUM, SAME_PLACE, SAME_SPREAD, FASTER = 1e-6, 0.01, 0.01, 30


def exchange():
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, 'fit.json')
        subprocess.run(['go', 'test', './xrd/pattern', '-run', '^TestOracleFit$', '-count=1'], cwd=ROOT, check=True,
                       stdout=subprocess.DEVNULL, env=dict(os.environ, PHASETALLY_ORACLE_FIT=path))
        with open(path, encoding='utf-8') as f:
            return json.load(f)


def reciprocal(cell):
    """metric of the reciprocal cell: 1/d² = h G* h"""
    a, b, c = cell[:3]
    ca, cb, cg = np.cos(np.radians(cell[3:]))
    return np.linalg.inv([[a * a, a * b * cg, a * c * cb], [a * b * cg, b * b, b * c * ca], [a * c * cb, b * c * ca, c * c]])


def strained(phase, values):
    """the cell with its edges changed; edges that symmetry ties move together"""
    cell = list(phase['Cell'])
    a = 1 + values.get('cell a', 0)
    c = a if phase['System'] == 'cubic' else 1 + values.get('cell c', 0)
    return [cell[0] * a, cell[1] * a, cell[2] * c] + cell[3:]


def pseudo_voigt(x, fwhm, eta):
    t = x / fwhm
    return (eta * 2 / np.pi / (1 + 4 * t * t) + (1 - eta) * 2 * np.sqrt(np.log(2) / np.pi) * np.exp(-4 * np.log(2) * t * t)) / fwhm


def lorentz_polarisation(theta):
    return (1 + np.cos(2 * theta) ** 2) / (2 * np.sin(theta) ** 2 * np.cos(theta))


class Pattern:
    def __init__(self, e):
        self.e = e
        self.x = np.array(e['TwoTheta'])
        self.weight = 1 / np.sqrt(e['Variance'])
        self.splines = self.background(e['Intervals'])
        i = e['Instrument']
        self.u, self.tau = i['GaussTan2'], -i['GaussTan'] / (2 * i['GaussTan2'])
        self.held = {'X': i['LorentzSize'], 'Y': i['LorentzStrain'], 'axial': i['Axial'], 'W0': i['GaussConst'] - i['GaussTan'] ** 2 / (4 * i['GaussTan2'])}
        self.prior = [(p['PriorMean'], p['PriorSD']) for p in e['Parameters']]
        self.lines = [self.line(l) for l in e['Lines']]
        self.rules = {n: self.rule(n) for n in {l['Nodes'] for l in e['Lines']}}

    def background(self, intervals):
        """uniform cubic B-splines"""
        lo, hi = self.x[0], self.x[-1]
        step = (hi - lo) / intervals
        knots = lo + step * np.arange(-3, intervals + 4)
        knots[intervals + 3] = hi
        return BSpline.design_matrix(np.minimum(self.x, hi), knots, 3).toarray().T

    @staticmethod
    def rule(nodes):
        """the positive half of a Gauss rule: shifts u² and weights for u even over 0 to 1"""
        x, w = np.polynomial.legendre.leggauss(2 * nodes)
        return x[nodes:] ** 2, w[nodes:]

    def line(self, l):
        e = self.e
        wave, first = e['Wavelengths'][l['Wavelength']], e['Wavelengths'][0]
        theta, main = np.arcsin(wave / (2 * l['D'])), np.arcsin(first / (2 * l['D']))
        hkl = np.array(l['HKL'], float)
        share = (e['Ratio'] if l['Wavelength'] else 1) / (1 + e['Ratio'])
        return dict(l, wave=wave, theta=theta, hkl=hkl, range=slice(l['First'], l['Last']),
                    own=1 / (l['D'] ** 2 * (hkl @ reciprocal(e['Phases'][l['Phase']]['Cell']) @ hkl)),
                    area=l['Intensity'] / 100 * share * lorentz_polarisation(theta) / lorentz_polarisation(main))

    def columns(self, theta):
        """patterns of the phases for unit scale"""
        shared, own = dict(self.held), [{} for _ in self.e['Phases']]
        for p, v in zip(self.e['Parameters'], theta):
            (shared if p['Phase'] < 0 else own[p['Phase']])[p['Kind']] = v
        metrics = [reciprocal(strained(p, o)) for p, o in zip(self.e['Phases'], own)]
        out = np.zeros((len(metrics), len(self.x)))
        for l in self.lines:
            t = l['theta']
            at = 2 * np.degrees(np.arcsin(l['wave'] / 2 * np.sqrt(l['hkl'] @ metrics[l['Phase']] @ l['hkl'] * l['own'])))
            at -= np.degrees(2 * shared.get('displacement', 0) * np.cos(t) / self.e['Radius'])
            gauss = np.sqrt(shared['W0'] + self.u * (np.tan(t) - self.tau) ** 2)
            lorentz = shared['X'] / np.cos(t) + shared['Y'] * np.tan(t)
            fwhm = sum(c * gauss ** (5 - k) * lorentz ** k for k, c in enumerate(TCH)) ** .2
            q = lorentz / fwhm
            eta = q * (1.36603 + q * (-.47719 + q * .11116))
            area = l['area'] * np.exp(-own[l['Phase']].get('B', 0) / (2 * l['D'] ** 2))
            x, tail = self.x[l['range']] - at, shared['axial'] / np.tan(2 * t)
            for shift, w in zip(*self.rules[l['Nodes']]):
                out[l['Phase'], l['range']] += area * w * pseudo_voigt(x + tail * shift, fwhm, eta)
        return out

    def split(self, p):
        n = len(p) - len(self.e['Parameters'])
        return p[:n], p[n:]

    def residual(self, p):
        c, theta = self.split(p)
        s = self.e['Scales']
        y = c[:s] @ self.columns(theta) + c[s:] @ self.splines
        return np.concatenate([(y - self.e['Intensity']) * self.weight, [(v - m) / u for v, (m, u) in zip(theta, self.prior)]])

    def jacobian(self, p):
        """exact in what is linear, central differences else"""
        c, theta = self.split(p)
        s, n = self.e['Scales'], len(self.x)
        j = np.zeros((n + len(theta), len(p)))
        j[:n, :len(c)] = (np.concatenate([self.columns(theta), self.splines]) * self.weight).T
        for k, (_, u) in enumerate(self.prior):
            step = np.zeros(len(theta))
            step[k] = 1e-4 * u
            j[:n, len(c) + k] = c[:s] @ (self.columns(theta + step) - self.columns(theta - step)) / (2 * step[k]) * self.weight
            j[n + k, len(c) + k] = 1 / u
        return j


def main():
    e = exchange()
    m = Pattern(e)
    theirs = np.array(e['C'] + e['Theta'])
    there = np.sum(m.residual(theirs) ** 2)
    began = time.perf_counter()
    start = np.array([p['Start'] for p in e['Parameters']])
    a = np.concatenate([m.columns(start), m.splines]) * m.weight
    c = np.linalg.lstsq(a.T, np.array(e['Intensity']) * m.weight, rcond=None)[0]
    least = np.concatenate([np.full(len(c), -np.inf), [LEAST.get(p['Kind'], -np.inf) for p in e['Parameters']]])
    fit = least_squares(m.residual, np.concatenate([c, start]), m.jacobian, (least, np.inf), x_scale='jac', ftol=1e-12, xtol=1e-12, gtol=1e-12)
    took = time.perf_counter() - began
    found = 2 * fit.cost
    cov = np.linalg.inv(fit.jac.T @ fit.jac)
    ours = np.array(e['Covariance']).reshape(cov.shape)
    u = np.sqrt(np.diag(cov))
    goal = e['SumSquares'] + e['Penalty']
    figures = [
        ('sum of squares at the program\'s parameters, relative difference', abs(there / goal - 1), SAME_SUM),
        ('sum of squares at the minimum, relative difference', abs(found / goal - 1), SAME_SUM),
        ('parameters, largest difference in standard uncertainties', np.max(np.abs(theirs - fit.x) / u), SAME_PLACE),
        ('covariance, largest difference over the product of standard uncertainties', np.max(np.abs(ours - cov) / np.outer(u, u)), SAME_SPREAD),
        ('time over that of the library', e['Milliseconds'] / 1e3 / took, 1 / FASTER),
    ]
    print('  %d points, %d lines, %d linear and %d other parameters; sum of squares %.6f, library %.6f (%s)' % (
        len(m.x), len(m.lines), len(e['C']), len(e['Theta']), goal, found, fit.message))
    failed = False
    for what, value, most in figures:
        failed |= not value <= most
        print('  %s %s: %.2g (at most %.2g)' % ('ok  ' if value <= most else 'FAIL', what, value, most))
    print('  the program took %.1f ms, the library %.1f s: %.0f times faster' % (e['Milliseconds'], took, took * 1e3 / e['Milliseconds']))
    sys.exit(failed)


if __name__ == '__main__':
    main()
