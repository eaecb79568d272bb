#!/usr/bin/python3
"""Measures whether the 95 % intervals of polished sections can be believed, on invented sections whose rays are traced through random microstructures.

    .ci/quality_sections.py --binary ./phasetally [--work FOLDER] [--count 240] [--jobs 2]

Run from the project root with the system python (python3-gemmi, python3-xraylib, python3-numpy). Four alloys; intercept times mean absorption from 0.1 to 20;
one cut, one cut with a fibre texture, two cuts with it. How much each phase absorbs of its own lines follows from rays through cells of random phase (nothing is
shared with the program), which scales the weights that the independent simulator of ../shared/oracle is called with; cells, displacement parameters and lines
depart from the reference as in quality_quantify.py. Each section is analysed with its true intercept, with one drawn from a stated uncertainty of 30 %, and without.
"""
import argparse
import concurrent.futures
import json
import math
import os
import subprocess
import sys

import numpy as np

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), '..')
ORACLE = os.path.join(ROOT, '..', 'shared', 'oracle')
sys.path.insert(0, ORACLE)

# names of structures, volume fractions, the planes of a fibre, tube
ALLOYS = [
    (['Cu', 'Cu3Sn_eps', 'Cu6Sn5_eta', 'Cu2O'], [.70, .14, .12, .04], [1, 1, 1], 'Cu'),
    (['W', 'Cu'], [.6, .4], [1, 1, 0], 'Cu'),
    (['CuSn_bronze_alpha', 'Nb3Sn', 'Nb'], [.5, .35, .15], [1, 1, 1], 'Cu'),
    (['CuSn_bronze_alpha', 'Cu2O', 'Pb'], [.80, .12, .08], [1, 1, 1], 'Cu'),
]
SIZES = [.1, .5, 1.5, 5, 20]  # mean intercept times mean absorption
ROWS = ['one cut', 'one cut, fibre', 'two cuts, fibre']
MODES = ['true', 'drawn', 'none']
SIDE, STEP, RAYS, STEPS = 10, .06, 1500, 700


def tessellation(folder, number):
    """cells along both legs of random points: [ray, leg, step]; one seed in each unit cube of a periodic box"""
    path = os.path.join(folder, 'cells-%d.npy' % number)
    if os.path.exists(path):
        return np.load(path)
    rng = np.random.default_rng(900 + number)
    grid = np.stack(np.meshgrid(*[np.arange(SIDE)] * 3, indexing='ij'), -1)
    seeds = grid + rng.random(grid.shape)
    at = rng.random((RAYS, 3)) * SIDE
    a = rng.normal(size=(RAYS, 3))
    a /= np.linalg.norm(a, axis=1)[:, None]
    b = rng.normal(size=(RAYS, 3))
    b -= (a * b).sum(1)[:, None] * a
    b /= np.linalg.norm(b, axis=1)[:, None]
    between = math.pi - np.radians(rng.uniform(30, 110, RAYS))
    out = np.cos(between)[:, None] * a + np.sin(between)[:, None] * b
    cells = np.empty((RAYS, 2, STEPS), np.int16)
    for leg, d in enumerate((a, out)):
        for k in range(STEPS):
            x = at + (k + .5) * STEP * d
            home = np.floor(x).astype(int)
            best, who = np.full(RAYS, np.inf), np.zeros(RAYS, int)
            for shift in np.stack(np.meshgrid(*[[-1, 0, 1]] * 3), -1).reshape(-1, 3):
                cube = home + shift
                wrapped = cube % SIDE
                s = seeds[wrapped[:, 0], wrapped[:, 1], wrapped[:, 2]] + (cube - wrapped)
                r = ((s - x) ** 2).sum(1)
                near = r < best
                best[near] = r[near]
                who[near] = (wrapped[near, 0] * SIDE + wrapped[near, 1]) * SIDE + wrapped[near, 2]
            cells[:, leg, k] = who
    np.save(path, cells)
    return cells


def traced(cells, v, mu, size, rng):
    """true volumes, mean intercept in cm, and intensity over that of a fine powder, of each phase"""
    phase = rng.choice(len(v), SIDE ** 3, p=v)[cells]
    share = np.array([(phase == p).mean() for p in range(len(v))])
    changes = (phase[:, :, 1:] != phase[:, :, :-1]).sum() / (phase.shape[0] * 2 * (STEPS - 1) * STEP)  # regions on a unit of length
    mean = share @ mu
    unit = size / mean * changes  # cm of a unit
    m = mu[phase]
    before = np.cumsum(m, 2) - m  # absorption up to each step
    both, rate = before.sum(1) * STEP * unit, m.sum(1)
    signal = (np.exp(-both) * -np.expm1(-rate * STEP * unit) / rate).sum(1)
    start = phase[:, 0, 0]
    path = np.array([signal[start == p].mean() for p in range(len(v))])
    return share, unit / changes, 2 * mean * path


def make(job):
    number, folder = job
    base = os.path.join(folder, '%04d' % number)
    if os.path.exists(base + '.json'):
        return base
    import simulate as sim
    import oracle
    rng = np.random.default_rng(52000 + number)
    row = ROWS[number % 3]
    names, v, pole, rad = ALLOYS[number // 3 % 4]
    size = SIZES[number // 12 % 5]
    sts = [oracle.load(n) for n in names]
    mu = np.array([s.mu(oracle.wavelength(rad, 'ka1')) for s in sts])
    rho = np.array([s.rho for s in sts])
    share, intercept, tau = traced(tessellation(folder, number % 4), v, mu, size, rng)
    truth = share * rho / (share @ rho)
    seen = truth * tau / (truth @ tau)
    cuts = 2 if row.startswith('two') else 1
    scatter = float(rng.uniform(0, .05))
    r = float(rng.uniform(.6, .8))
    scale = 1 + rng.uniform(-.003, .003, len(names))
    for cut in range(cuts):
        mix = [dict(phase=n, w=float(w), scale=float(s), size=None, strain=0.0) for n, w, s in zip(names, seen, scale)]
        if 'fibre' in row:
            mix[0]['md'] = (pole, r if cut == 0 else float(1 / math.sqrt(r)))
        x, counts, _ = sim.simulate(mix, rad=rad, tmin=20, tmax=110, step=.02, time=2, seed=int(1000 * cut + number), zero=float(rng.uniform(-.01, .01)),
                                    disp=float(np.clip(rng.normal(0, .08), -.2, .2)), bperturb=.3, line_scatter=scatter)
        with open('%s-%d.xy' % (base, cut), 'w', encoding='utf-8') as f:
            f.write('# simulated, invented composition\n# radiation: %s\n# section: %s\n' % (rad, ['transverse', 'longitudinal'][cut]))
            f.writelines('%.3f %d\n' % p for p in zip(x, counts))
    with open(base + '.json', 'w', encoding='utf-8') as f:
        json.dump(dict(row=row, phases=names, truth=list(100 * truth), micron=1e4 * intercept, size=size, cuts=cuts), f)
    return base


def quantified(job):
    number, a = job
    base = make((number, a.work))
    with open(base + '.json', encoding='utf-8') as f:
        t = json.load(f)
    rng = np.random.default_rng(77000 + number)
    drawn = t['micron'] * math.exp(.3 * rng.normal())
    rows = []
    for mode in MODES:
        stated = {'true': ['--intercept', '%.6g±%.6g' % (t['micron'], .02 * t['micron'])], 'drawn': ['--intercept', '%.6g±%.6g' % (drawn, .3 * drawn)], 'none': []}[mode]
        args = [a.binary, 'quantify'] + ['%s-%d.xy' % (base, c) for c in range(t['cuts'])] + (['--same-specimen'] if t['cuts'] > 1 else []) + \
            ['--library', a.cif, '--no-starter', '--format', 'json', '--jobs', '1', '--phase', ','.join(t['phases'])] + stated
        done = subprocess.run(args, capture_output=True, text=True, check=False)
        if done.returncode not in (0, 3):
            raise RuntimeError('%s: exit %d: %s' % (' '.join(args), done.returncode, done.stderr.strip()))
        found = {p['id'].lower(): p for p in json.loads(done.stdout)['phases']}
        for n, w in zip(t['phases'], t['truth']):
            q = found.get(n.lower(), {})
            rows.append(dict(number=number, row=t['row'], mode=mode, size=t['size'], phase=n, truth=w, value=q.get('weight_percent'), lo=q.get('weight_percent_lo95'),
                             hi=q.get('weight_percent_hi95'), fine=q.get('fine_limit_weight_percent'), fine_lo=q.get('fine_limit_weight_percent_lo95'),
                             fine_hi=q.get('fine_limit_weight_percent_hi95')))
    return rows


def wilson(part, whole):
    p, z = part / whole, 1.96
    mid, half = (p + z * z / (2 * whole)) / (1 + z * z / whole), z * math.sqrt(p * (1 - p) / whole + z * z / (4 * whole * whole)) / (1 + z * z / whole)
    return '%5.1f %% (%d of %d; %.1f–%.1f)' % (100 * p, part, whole, 100 * (mid - half), 100 * (mid + half))


def line(title, rows):
    rows = [r for r in rows if r['value'] is not None]
    if not rows:
        return
    held = sum(r['lo'] <= r['truth'] <= r['hi'] for r in rows)
    fine = sum(r['fine_lo'] <= r['truth'] <= r['fine_hi'] for r in rows if r['fine'] is not None)
    print('  %-30s rms error %5.2f  median half width %5.2f  held %s; as a fine powder %.0f %%' % (
        title, math.sqrt(np.mean([(r['value'] - r['truth']) ** 2 for r in rows])), np.median([(r['hi'] - r['lo']) / 2 for r in rows]), wilson(held, len(rows)), 100 * fine / len(rows)))


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument('--binary', default=os.path.join(ROOT, 'phasetally'))
    p.add_argument('--work', default='quality-sections')
    p.add_argument('--count', type=int, default=240)
    p.add_argument('--jobs', type=int, default=1)
    p.add_argument('--cif', default=os.path.join(ORACLE, 'cif'))
    a = p.parse_args()
    os.makedirs(a.work, exist_ok=True)
    for k in range(4):
        tessellation(a.work, k)
    with concurrent.futures.ProcessPoolExecutor(a.jobs) as pool:
        rows = [r for rs in pool.map(quantified, [(n, a) for n in range(a.count)]) for r in rs]
    missing = sum(r['value'] is None for r in rows)
    print('%d sections, %d fractions, %d not found; wt%%' % (a.count, len(rows), missing))
    for mode, name in zip(MODES, ['intercept known', 'intercept drawn from 30 %', 'no intercept']):
        mine = [r for r in rows if r['mode'] == mode]
        line(name, mine)
        for row in ROWS:
            line('  ' + row, [r for r in mine if r['row'] == row])
        for s in SIZES:
            line('  intercept × absorption %g' % s, [r for r in mine if r['size'] == s])


if __name__ == '__main__':
    main()
