#!/usr/bin/python3
"""Measures whether the 95 % intervals of polished sections can be believed, on invented sections whose rays are traced through random microstructures.

    .ci/quality_sections.py --binary ./phasetally [--work FOLDER] [--count 240] [--jobs 2]

Run from the project root with the system python (python3-gemmi, python3-xraylib, python3-numpy). Four alloys; intercept times mean absorption from 0.1 to 20;
one cut across the axis of the piece, one with a fibre about that axis, two cuts (across and along it) of such a piece. How much each phase absorbs of its own lines
follows from rays through cells of random phase, each on its own or in clusters, through plates in all directions, or through balls (nothing is shared with the
program), which scales the weights that the independent simulator of ../shared/oracle is called with; lines of the cut along the axis follow from averaging the poles over all directions in that cut. Cells,
displacement parameters and lines depart from the reference as in quality_quantify.py. Each section is analysed with its true intercept, with one drawn from a stated
uncertainty of 30 %, without, and (one cut) without a word that it is a section.
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
SHAPES = ['cells', 'clusters', 'plates', 'balls']
ROWS = ['one cut', 'one cut, fibre', 'two cuts, fibre']
MODES = ['true', 'drawn', 'none', 'undeclared']
SIDE, STEP, RAYS, STEPS = 10, .06, 1500, 700
CLUSTERS = 80  # in a box, places of one composition


def tessellation(folder, number):
    """cells along both legs of random points and the distance from their seeds, [ray, leg, step], and the directions of the legs; one seed in each unit cube of a periodic
    box"""
    path = os.path.join(folder, 'cells-%d.npz' % number)
    if os.path.exists(path):
        with np.load(path) as f:
            return f['cells'], f['near'], f['legs']
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
    cells, distance = np.empty((RAYS, 2, STEPS), np.int16), np.empty((RAYS, 2, STEPS), np.float32)
    legs = np.stack([a, out], 1)
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
            cells[:, leg, k], distance[:, leg, k] = who, np.sqrt(best)
    np.savez(path, cells=cells, near=distance, legs=legs)
    return cells, distance, legs


def microstructure(folder, number, v, shape, rng):
    """phase along both legs of random points, [ray, leg, step]"""
    cells, near, legs = tessellation(folder, number)
    if shape == 'plates':  # of the first phase and of another in turn, standing in all directions
        normal = rng.normal(size=(RAYS, 3))
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        at = rng.random((RAYS, 1, 1)) * 1000 + (legs @ normal[:, :, None]) * ((np.arange(STEPS) + .5) * STEP)
        kind = rng.choice(len(v) - 1, 2000, p=np.array(v[1:]) / sum(v[1:])) + 1
        return np.where(at % 1 < v[0], 0, kind[np.floor(at).astype(int) % 2000])
    phase = rng.choice(len(v), SIDE ** 3, p=v)
    if shape == 'clusters':  # two cells in three have the phase of the place in a coarser tessellation that they lie in
        at = np.stack(np.unravel_index(np.arange(SIDE ** 3), [SIDE] * 3), -1) + .5
        fat = rng.random((CLUSTERS, 3)) * SIDE
        apart = np.abs(at[:, None] - fat[None])
        home = (np.minimum(apart, SIDE - apart) ** 2).sum(-1).argmin(1)
        phase = np.where(rng.random(SIDE ** 3) < 2 / 3, rng.choice(len(v), CLUSTERS, p=v)[home], phase)
    if shape == 'balls':  # of the other phases in the first
        phase = rng.choice(len(v) - 1, SIDE ** 3, p=np.array(v[1:]) / sum(v[1:])) + 1
        return np.where(near < np.quantile(near, 1 - v[0]), phase[cells], 0)
    return phase[cells]


def traced(phase, v, mu, size):
    """true volumes, mean intercept in cm, and intensity over that of a fine powder, of each phase"""
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


def march(st, families, pole, r):
    """mean density of poles of one line over that of a random powder: March and Dollase's along the axis of the piece, which is the normal of the surface or, for r < 0,
    lies in it, where all turns of the piece about the normal of the planes are alike"""
    p = np.array(pole, float)
    turns = (np.arange(90) + .5) * math.pi / 90
    total = weight = 0.0
    for f in families:
        orbit = {tuple(int(round(x)) for x in np.array(f['hkl']) @ R) for R in st.rot}
        orbit |= {tuple(-x for x in h) for h in orbit}
        s = 0.0
        for h in orbit:
            h = np.array(h, float)
            c2 = min(1., (h @ st.Gs @ p) ** 2 / (p @ st.Gs @ p) / (h @ st.Gs @ h))
            if r < 0:
                c2 = (1 - c2) * np.cos(turns) ** 2
            s += np.mean((r * r * c2 + (1 - c2) / abs(r)) ** -1.5)
        total += f['I'] * s / len(orbit)
        weight += f['I']
    return total / weight


def make(job):
    number, folder = job
    base = os.path.join(folder, '%04d' % number)
    if os.path.exists(base + '.json'):
        return base
    import simulate as sim
    import oracle
    sim.march = march
    rng = np.random.default_rng(52000 + number)
    row = ROWS[number % 3]
    names, v, pole, rad = ALLOYS[number // 3 % 4]
    size = SIZES[number // 12 % 5]
    sts = [oracle.load(n) for n in names]
    mu = np.array([s.mu(oracle.wavelength(rad, 'ka1')) for s in sts])
    rho = np.array([s.rho for s in sts])
    shape = SHAPES[number // 60 % 4]
    share, intercept, tau = traced(microstructure(folder, number % 4, v, shape, rng), v, mu, size)
    truth = share * rho / (share @ rho)
    seen = truth * tau / (truth @ tau)
    cuts = 2 if row.startswith('two') else 1
    scatter = float(rng.uniform(0, .05))
    r = float(rng.uniform(.6, .8))
    scale = 1 + rng.uniform(-.003, .003, len(names))
    for cut in range(cuts):
        mix = [dict(phase=n, w=float(w), scale=float(s), size=None, strain=0.0) for n, w, s in zip(names, seen, scale)]
        if 'fibre' in row:
            mix[0]['md'] = (pole, r if cut == 0 else -r)  # below 0: the axis lies in the surface
        x, counts, _ = sim.simulate(mix, rad=rad, tmin=20, tmax=110, step=.02, time=2, seed=int(1000 * cut + number), zero=float(rng.uniform(-.01, .01)),
                                    disp=float(np.clip(rng.normal(0, .08), -.2, .2)), bperturb=.3, line_scatter=scatter)
        with open('%s-%d.xy' % (base, cut), 'w', encoding='utf-8') as f:
            f.write('# simulated, invented composition\n# radiation: %s\n# section: %s\n' % (rad, ['transverse', 'longitudinal'][cut]))
            f.writelines('%.3f %d\n' % p for p in zip(x, counts))
    with open(base + '.json', 'w', encoding='utf-8') as f:
        json.dump(dict(row=row, phases=names, truth=list(100 * truth), micron=1e4 * intercept, size=size, cuts=cuts, shape=shape), f)
    return base


def silent(base):
    """the scan of the first cut without the line that says it is a section"""
    with open(base + '-0.xy', encoding='utf-8') as f:
        lines = [l for l in f if not l.startswith('# section')]
    with open(base + '-silent.xy', 'w', encoding='utf-8') as f:
        f.writelines(lines)
    return base + '-silent.xy'


def quantified(job):
    number, a = job
    base = make((number, a.work))
    with open(base + '.json', encoding='utf-8') as f:
        t = json.load(f)
    rng = np.random.default_rng(77000 + number)
    drawn = t['micron'] * math.exp(.3 * rng.normal())
    rows = []
    for mode in MODES:
        stated = {'true': ['--intercept', '%.6g±%.6g' % (t['micron'], .02 * t['micron'])], 'drawn': ['--intercept', '%.6g±%.6g' % (drawn, .3 * drawn)], 'none': [], 'undeclared': []}[mode]
        if mode == 'undeclared' and t['cuts'] > 1:
            continue  # cuts of a piece are stated
        args = [a.binary, 'quantify'] + [silent(base) if mode == 'undeclared' else '%s-%d.xy' % (base, c) for c in range(t['cuts'])] + (['--same-specimen'] if t['cuts'] > 1 else []) + \
            ['--library', a.cif, '--no-starter', '--format', 'json', '--jobs', '1', '--phase', ','.join(t['phases'])] + stated
        done = subprocess.run(args, capture_output=True, text=True, check=False)
        if done.returncode not in (0, 3):
            raise RuntimeError('%s: exit %d: %s' % (' '.join(args), done.returncode, done.stderr.strip()))
        found = {p['id'].lower(): p for p in json.loads(done.stdout)['phases']}
        for n, w in zip(t['phases'], t['truth']):
            q = found.get(n.lower(), {})
            rows.append(dict(number=number, row=t['row'], mode=mode, size=t['size'], phase=n, truth=w, shape=t['shape'], value=q.get('weight_percent'),
                             budget={b['source']: b['u_weight_percent'] for b in q.get('budget') or []}, lo=q.get('weight_percent_lo95'),
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
    print('  %-30s rms error %5.2f  median half-width %5.2f  held %s; as a fine powder %.0f %%' % (
        title, math.sqrt(np.mean([(r['value'] - r['truth']) ** 2 for r in rows])), np.median([(r['hi'] - r['lo']) / 2 for r in rows]), wilson(held, len(rows)), 100 * fine / len(rows)))


def sources(rows):
    """rms of each part of the budget, wt%, beside the rms error: what a width is made of"""
    names = dict.fromkeys(n for r in rows for n in r['budget'])
    print('    ' + '; '.join('%s %.2f' % (n, math.sqrt(np.mean([r['budget'].get(n, 0) ** 2 for r in rows]))) for n in names))


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
    with open(os.path.join(a.work, 'rows.json'), 'w', encoding='utf-8') as f:
        json.dump(rows, f)
    print('%d sections, %d fractions, %d not found; wt%%' % (a.count, len(rows), missing))
    for mode, name in zip(MODES, ['intercept known', 'intercept drawn from 30 %', 'no intercept', 'neither powder nor section stated']):
        mine = [r for r in rows if r['mode'] == mode]
        line(name, mine)
        for row in ROWS:
            line('  ' + row, [r for r in mine if r['row'] == row])
            sources([r for r in mine if r['row'] == row])
        for s in SHAPES:
            line('  ' + s, [r for r in mine if r['shape'] == s])
        for s in SIZES:
            line('  intercept × absorption %g' % s, [r for r in mine if r['size'] == s])


if __name__ == '__main__':
    main()
