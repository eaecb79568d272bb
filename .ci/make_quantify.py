#!/usr/bin/python3
"""Writes the scans that the tests of xrd/analysis quantify: simulated, with invented compositions, by the independent simulator of ../shared/oracle.

Run from the project root with the system python (python3-gemmi, python3-xraylib, python3-numpy): .ci/make_quantify.py
"""
import os
import sys

import numpy as np

root = os.path.join(os.path.dirname(os.path.abspath(__file__)), '..')
sys.path.insert(0, os.path.join(root, '..', 'shared', 'oracle'))
from simulate import simulate  # noqa: E402

CORUNDUM, QUARTZ, FLUORITE, COPPER, EPS = 'Al2O3_corundum', 'SiO2_quartz', 'CaF2', 'Cu', 'Cu3Sn_eps'
FIBRE = [1, 1, 1]
SCANS = [  # file, {phase: (mass fraction, options of the phase)}, glass, seed, options
    ('corundum', {CORUNDUM: (1, {})}, 0, 1, {}),
    ('glass', {QUARTZ: (.40, {}), FLUORITE: (.35, {})}, .25, 2, {}),
    ('titania', {'TiO2_rutile': (.9916, {}), 'TiO2_anatase': (.0084, {})}, 0, 3, dict(time=4)),
    ('transverse', {COPPER: (.70, dict(md=(FIBRE, .75))), EPS: (.30, {})}, 0, 4, dict(tmin=30, tmax=100)),
    ('longitudinal', {COPPER: (.70, dict(md=(FIBRE, 1.2))), EPS: (.30, {})}, 0, 5, dict(tmin=30, tmax=100)),
    ('automatic-slit', {QUARTZ: (.5, {}), CORUNDUM: (.5, {})}, 0, 6, dict(auto_slit=True, tmax=100)),
    ('short-specimen', {QUARTZ: (.5, {}), CORUNDUM: (.5, {})}, 0, 7, dict(length=10., tmax=100)),
    ('edge', {'Ni': (.8, {}), COPPER: (.2, {})}, 0, 8, dict(white=.04, time=2)),
    ('oriented', {'YBa2Cu3O7': (.5, dict(md=([0, 0, 1], .12))), 'Ag': (.5, {})}, 0, 9, {}),
    ('false-spike', {QUARTZ: (.8, {}), CORUNDUM: (.2, dict(scale=1.003))}, 0, 10, {}),
    ('iron', {'Fe_alpha': (.5, {}), COPPER: (.5, {})}, 0, 11, dict(tmin=30)),
    ('hidden', {'Nb3Sn': (.775, {}), 'ZnO': (.175, {}), 'YBa2Cu3O7': (.05, {})}, 0, 13, dict(auto_slit=True, tmax=100, step=.02)),
    ('ground', {COPPER: (1, dict(strain=2e-3))}, 0, 12, dict(tmin=30, tmax=120)),
]


def white(x, y, share):
    """white radiation of every line of a noise-free pattern, per degree at 40 degrees over its area: the nickel filter takes what is shorter than
    its K edge, 1.48807 A, the detector what is farther than 20 % (full width) from 1.54059 A"""
    out = np.zeros_like(y)
    line, step = y - y.min(), x[1] - x[0]
    theta = np.radians(x / 2)
    for t, area in zip(theta, line * step):
        ratio = np.sin(theta) / np.sin(t)
        out += np.where(ratio >= 1.48807 / 1.5405929, share * area * np.tan(np.radians(20)) / np.tan(theta) * np.exp(-4 * np.log(2) * ((ratio - 1) / .2)**2), 0)
    return out


def main():
    folder = os.path.join(root, 'xrd', 'analysis', 'testdata')
    os.makedirs(folder, exist_ok=True)
    for name, parts, glass, seed, options in SCANS:
        mix = [dict(phase=p, w=w, **more) for p, (w, more) in parts.items()]
        settings = dict(rad='Cu', tmin=20, tmax=80, step=0.03, bperturb=.15, line_scatter=.015) | options
        share = settings.pop('white', 0)
        x, counts, _ = simulate(mix, seed=seed, amorphous=dict(kind='silica', w=glass) if glass else None, **settings, noise=not share)
        if share:
            counts = np.random.default_rng(seed).poisson(counts + white(x, counts, share))
        with open(os.path.join(folder, name + '.xy'), 'w', encoding='utf-8') as f:
            f.write('# simulated scan of an invented powder (see README.md); not measured\n# radiation: Cu\n')
            f.write('# section: %s\n' % name if name in ('transverse', 'longitudinal') else '')
            f.writelines('%.2f %d\n' % p for p in zip(x, counts))


if __name__ == '__main__':
    main()
