#!/usr/bin/python3
"""Writes the demo scans of testdata: simulated, with invented compositions, by the independent simulator of ../shared/oracle.

Run from the project root with the system python (python3-gemmi, python3-xraylib, python3-numpy): .ci/make_demo.py
"""
import os
import sys
import tempfile

import numpy as np

root = os.path.join(os.path.dirname(os.path.abspath(__file__)), '..')
sys.path.insert(0, os.path.join(root, '..', 'shared', 'oracle'))
from simulate import simulate  # noqa: E402

BRONZE, TIN, ETA, EPS, OXIDE, GRIT = 'CuSn_bronze_alpha', 'Sn_beta', 'Cu6Sn5_eta', 'Cu3Sn_eps', 'Cu2O', 'SiC_6H'
STANDARD = 'standard-silicon'
SCANS = [  # file, sample, composition in wt%, seed, options
    ('bushing-aged', 'bushing 7, tinned, 150 °C 200 h', {BRONZE: 70, ETA: 14, EPS: 12, OXIDE: 4}, 41, {}),
    ('bushing-grit', 'bushing 9, ground on SiC paper', {BRONZE: 90, ETA: 7, GRIT: 3}, 42, {}),
    ('ageing-000h', 'bushing 12, as tinned', {BRONZE: 62, TIN: 33, ETA: 5}, 51, {}),
    ('ageing-024h', 'bushing 12, 150 °C 24 h', {BRONZE: 61, TIN: 24, ETA: 13, EPS: 2}, 52, {}),
    ('ageing-072h', 'bushing 12, 150 °C 72 h', {BRONZE: 60, TIN: 15, ETA: 20, EPS: 5}, 53, {}),
    ('ageing-168h', 'bushing 12, 150 °C 168 h', {BRONZE: 58, TIN: 6, ETA: 26, EPS: 10}, 54, {}),
    ('ageing-336h', 'bushing 12, 150 °C 336 h', {BRONZE: 57, TIN: 1.5, ETA: 25.5, EPS: 16}, 55, {}),
    ('ageing-672h', 'bushing 12, 150 °C 672 h', {BRONZE: 56, ETA: 20, EPS: 24}, 56, {}),
    (STANDARD, 'silicon powder, the standard of the workshop', {'Si': 100}, 61, dict(tmax=140, overspill=0)),
]


def section():
    """a leaded bushing whose regions are coarse: what each phase absorbs of its own lines comes from rays traced through random cells"""
    import oracle
    from quality_sections import tessellation, traced
    parts, size = {BRONZE: .84, 'Pb': .10, OXIDE: .06}, 1.0  # volumes; mean intercept times mean absorption
    sts = [oracle.load(p) for p in parts]
    mu, rho = np.array([s.mu(oracle.wavelength('Cu', 'ka1')) for s in sts]), np.array([s.rho for s in sts])
    with tempfile.TemporaryDirectory() as folder:
        v, intercept, tau = traced(tessellation(folder, 11), list(parts.values()), mu, size, np.random.default_rng(11))
    weights = v * rho / (v @ rho)
    seen = weights * tau / (weights @ tau)
    x, counts, _ = simulate([dict(phase=p, w=float(w), size=None, strain=4e-4 if p == BRONZE else 0.0) for p, w in zip(parts, seen)],
                            rad='Cu', tmin=20, tmax=100, step=.02, time=2, disp=.02, zero=.004, kbeta=.003, axial=.02, R=200.0, seed=71)
    with open(os.path.join(root, 'testdata', 'leaded-section.xy'), 'w', encoding='utf-8') as f:
        f.write('# simulated scan of an invented specimen (bearing workshop); not measured\n# sample: bushing 15, leaded, coarse\n# radiation: Cu\n')
        f.write('# slit: fixed:1.0\n# radius_mm: 200\n# counting_time_s: 2\n# section: transverse\n# mount: resin\n')
        f.writelines('%.2f %d\n' % p for p in zip(x, counts))
    with open(os.path.join(root, 'testdata', 'leaded-section.csv'), 'w', encoding='utf-8') as f:
        f.write('phase,weight_percent,volume_percent,mean_intercept_all_um\n')
        f.writelines('%s,%.2f,%.2f,%.2f\n' % (p, 100 * w, 100 * q, 1e4 * intercept) for p, w, q in zip(parts, weights, v))


def main():
    section()
    truth = ['scan,phase,weight_percent']
    for name, sample, parts, seed, options in SCANS:
        total = sum(parts.values())
        mix = [dict(phase=p, w=w / total, size=800.0 if p in (ETA, EPS) else None, strain=4e-4 if p == BRONZE else 0.0)
               for p, w in parts.items()]
        settings = dict(rad='Cu', tmin=20, tmax=100, step=0.02, disp=0.03 * (seed % 5 - 2), zero=0.004,
                        overspill=0.25, kbeta=0.003, axial=0.02, R=200.0) | options
        x, counts, _ = simulate(mix, seed=seed, **settings)
        with open(os.path.join(root, 'testdata', name + '.xy'), 'w', encoding='utf-8') as f:
            f.write('# simulated scan of an invented specimen (bearing workshop); not measured\n')
            f.write('# sample: %s\n# radiation: Cu\n# slit: fixed:1.0\n# radius_mm: 200\n# counting_time_s: 1\n' % sample)
            f.write('# section: powder\n' if name == STANDARD else '# section: transverse\n# mount: resin\n')
            f.writelines('%.2f %d\n' % p for p in zip(x, counts))
        truth += [] if name == STANDARD else ['%s,%s,%g' % (name, p, w) for p, w in parts.items()]
    with open(os.path.join(root, 'testdata', 'truth.csv'), 'w', encoding='utf-8') as f:
        f.write('\n'.join(truth) + '\n')


if __name__ == '__main__':
    main()
