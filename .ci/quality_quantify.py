#!/usr/bin/python3
"""Measures whether the 95 % intervals of fractions can be believed, on mixtures made by the independent simulator of ../shared/oracle.

    .ci/quality_quantify.py --binary ./phasetally [--work FOLDER] [--count 330] [--jobs 2] [--figure calibration.svg]

Run from the project root with the system python (python3-gemmi, python3-xraylib, python3-numpy). Every mixture follows from its number
alone; scans are kept in FOLDER and made once, the answers beside them. All compositions are invented.

Two to four of the oracle's structures, no two of them with nearly the same pattern, with Cu, Co or Mo. In every one the truth lies outside the
model: each cell but the standard's is off by up to 0.3 %, every atom's displacement parameter by 30 % (one standard deviation), every line by a scatter of
up to 5 %; zero, displacement, tails, the filter's edge, a specimen shorter than the beam (half of the time declared), size and strain vary. The kinds, by number:

    plain     fine powder without texture        textured   March-Dollase r 0.6 to 1.6 for half of the phases
    spiked    with silica glass, 20 to 40 wt%    low        a tenth of the counting time
              of the spiked powder a standard    coarse     a section of grains much larger than 1/mu
    rough     as plain, with a scatter of lines of 10 to 30 %
"""
import argparse
import concurrent.futures
import csv
import json
import math
import os
import subprocess
import sys

import numpy as np

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), '..')
ORACLE = os.path.join(ROOT, '..', 'shared', 'oracle')
sys.path.insert(0, ORACLE)

KINDS = ['plain', 'plain', 'textured', 'spiked', 'low', 'coarse', 'plain', 'textured', 'spiked', 'rough', 'plain']
RANGES = {'Cu': (15, 110, .02), 'Co': (18, 125, .02), 'Mo': (8, 55, .01)}
POLES = [[1, 1, 1], [1, 0, 0], [1, 1, 0], [0, 0, 1]]
STANDARD = 'Al2O3_corundum'
ALIKE = 0.5  # cosine between two patterns from which they are not put together


def structures():
    """names with their strongest lines (d, intensity), for telling likeness"""
    with open(os.path.join(ORACLE, 'expected_lines.json'), encoding='utf-8') as f:
        lines = json.load(f)
    return {name: fingerprint(v['lines']) for name, v in lines.items()}


def fingerprint(rows):
    """pattern on a logarithmic axis of d, each line as broad as the cells vary (0.3 %)"""
    axis = np.arange(math.log(0.8), math.log(6), 0.001)
    y = np.zeros(len(axis))
    for r in rows:
        y += r['Irel'] * np.exp(-0.5 * ((axis - math.log(r['d'])) / 0.003) ** 2)
    return y / np.linalg.norm(y)


def choose(rng, prints, count, first=None):
    names = sorted(prints)
    chosen = [first] if first else []
    while len(chosen) < count + bool(first):
        n = str(rng.choice(names))
        if n not in chosen and all(prints[n] @ prints[c] < ALIKE for c in chosen):
            chosen.append(n)
    return chosen


def recipe(number, prints):
    """what simulate() is called with, which flags go with it, and its kind"""
    rng = np.random.default_rng(71000 + number)
    kind = KINDS[number % len(KINDS)]
    rad = ['Cu', 'Co', 'Mo', 'Cu'][number // len(KINDS) % 4]
    count = int(rng.integers(2, 5))
    phases = choose(rng, prints, count, STANDARD if kind == 'spiked' else None)
    weights = rng.dirichlet(np.full(count, 1.2)) * .97 + .03 / count
    glass, spike = 0.0, 0.0
    if kind == 'spiked':
        spike, glass = rng.uniform(.2, .4), rng.uniform(.03, .3)
        weights = np.concatenate([[spike], weights * (1 - spike - glass)])
    mix = [dict(phase=p, w=float(w), scale=float(1 + rng.uniform(-.003, .003) * (not (kind == 'spiked' and p == STANDARD))), size=float(rng.choice([0, 0, 2000, 800, 400])) or None,
                strain=float(rng.choice([0, 0, 5e-4, 1e-3]))) for p, w in zip(phases, weights)]
    if kind == 'textured':
        for m in mix:
            if m is mix[0] or rng.random() < .4:
                m['md'] = (POLES[rng.integers(4)], float(np.exp(rng.uniform(.15, .5) * rng.choice([-1, 1]))))
    lo, hi, step = RANGES[rad]
    options = dict(rad=rad, tmin=lo, tmax=hi, step=step, time=.1 if kind == 'low' else float(rng.choice([1, 2])), seed=int(number),
                   zero=float(rng.uniform(-.01, .01)), disp=float(np.clip(rng.normal(0, .08), -.2, .2)), axial=float(rng.choice([0, .03])),
                   bperturb=.3, line_scatter=float(rng.uniform(.1, .3) if kind == 'rough' else rng.uniform(0, .05)),
                   tails=float(rng.choice([0, .05, .1])), coarse=kind == 'coarse')
    if rad == 'Mo':
        options.update(U=.002, V=-.0012, W=.0016, X=.008, Y=.012)
    if rad == 'Cu' and rng.random() < .4:
        options['edge'] = float(rng.uniform(.01, .04))
    flags = []
    if rad != 'Mo' and rng.random() < .3:
        options['length'] = float(rng.uniform(9, 18))
        if rng.random() < .5:
            flags = ['--slit', 'fixed:1', '--specimen-length', '%.3f' % options['length'], '--radius', '200']
    flags += ['--section', 'transverse' if kind == 'coarse' else 'powder']
    if spike:
        flags += ['--spike', '%s=%.4f' % (STANDARD, 100 * spike)]
    amorphous = dict(kind='silica', w=float(1 - sum(m['w'] for m in mix))) if glass else None
    return kind, mix, amorphous, options, flags


PRINTS = {}


def make(number, folder):
    """writes scan and truth unless they are there"""
    base = os.path.join(folder, '%04d' % number)
    if not os.path.exists(base + '.json'):
        from simulate import simulate
        if not PRINTS:
            PRINTS.update(structures())
        kind, mix, amorphous, options, flags = recipe(number, PRINTS)
        x, counts, _ = simulate(mix, amorphous=amorphous, **options)
        with open(base + '.xy', 'w', encoding='utf-8') as f:
            f.write('# simulated, invented composition\n# radiation: %s\n' % options['rad'])
            f.writelines('%.3f %d\n' % p for p in zip(x, counts))
        truth = dict(kind=kind, radiation=options['rad'], phases={m['phase']: 100 * m['w'] for m in mix}, flags=flags,
                     amorphous=100 * amorphous['w'] if amorphous else None, options=options, mix=mix)
        with open(base + '.json', 'w', encoding='utf-8') as f:
            json.dump(truth, f)
    return base


def quantified(job):
    """rows (phase, truth, value, lo, hi, …) of one mixture"""
    number, a = job
    base = make(number, a.work)
    with open(base + '.json', encoding='utf-8') as f:
        t = json.load(f)
    args = [a.binary, 'quantify', base + '.xy', '--library', a.cif, '--no-starter', '--format', 'json', '--jobs', '1', '--phase', ','.join(t['phases'])] + t['flags']
    if a.undeclared and '--section' in args:
        at = args.index('--section')
        del args[at:at + 2]
    elif not a.undeclared and '--section' not in args:
        args += ['--section', 'powder']  # scans that were made before powders said so
    done = subprocess.run(args, capture_output=True, text=True, check=False)
    if done.returncode not in (0, 3):
        raise RuntimeError('%s: exit %d: %s' % (' '.join(args), done.returncode, done.stderr.strip()))
    with open(base + '.answer.json', 'w', encoding='utf-8') as f:
        f.write(done.stdout)
    doc = json.loads(done.stdout)
    spiked = t['kind'] == 'spiked'
    own = {p: w for p, w in t['phases'].items() if not (spiked and p == STANDARD)}
    total = sum(own.values())
    found = {p['id']: p for p in doc['phases']}
    length = t['options'].get('length')
    common = dict(scan=number, kind=t['kind'], radiation=t['radiation'], short='' if not length else 'declared' if '--slit' in t['flags'] else 'undeclared',
                  cautions=' '.join(sorted({c['code'] for c in doc['cautions']})))
    rows = []
    for p, w in own.items():
        q = found.get(p)
        row = dict(common, phase=p, truth=100 * w / total, value=None, lo=None, hi=None, coarse=None, coarse_lo=None, coarse_hi=None, limit=None)
        if q is None:  # not there, says the program: 0 up to its limit
            limit = [n['detection_limit_weight_percent'] for n in doc['not_detected'] if n['id'] == p]
            row.update(value=0.0, lo=0.0, hi=limit[0] if limit else None)
        else:
            row.update(value=q['weight_percent'], lo=q['weight_percent_lo95'], hi=q['weight_percent_hi95'], coarse=q['coarse_limit_weight_percent'],
                       coarse_lo=q['coarse_limit_weight_percent_lo95'], coarse_hi=q['coarse_limit_weight_percent_hi95'], limit=q['detection_limit_weight_percent'])
        rows.append(row)
    if spiked:
        s = doc['absolute'] or {}
        original = 100 / (100 - t['phases'][STANDARD])
        rows.append(dict(common, phase='amorphous', truth=t['amorphous'] * original, value=s.get('amorphous_weight_percent'),
                         lo=s.get('amorphous_weight_percent_lo95'), hi=s.get('amorphous_weight_percent_hi95'), coarse=None, coarse_lo=None, coarse_hi=None, limit=None))
    return rows


def wilson(part, whole):
    """share in per cent with its 95 % interval"""
    if not whole:
        return '        –'
    p, z = part / whole, 1.96
    mid, half = (p + z * z / (2 * whole)) / (1 + z * z / whole), z * math.sqrt(p * (1 - p) / whole + z * z / (4 * whole * whole)) / (1 + z * z / whole)
    return '%5.1f %% (%d of %d; %.1f–%.1f)' % (100 * p, part, whole, 100 * (mid - half), 100 * (mid + half))


def inside(r):
    return r['lo'] is not None and r['hi'] is not None and r['lo'] <= r['truth'] <= r['hi']


def bracketed(r):
    """whether the band from the fine to the coarse limit, each with its interval, holds the truth"""
    if r['value'] is None:
        return False
    if r['coarse'] is None:
        return inside(r)
    return min(r['lo'], r['coarse_lo']) <= r['truth'] <= max(r['hi'], r['coarse_hi'])


def rmse(rows):
    d = [r['value'] - r['truth'] for r in rows if r['value'] is not None]
    return math.sqrt(np.mean(np.square(d))) if d else float('nan')


def half(rows):
    w = [(r['hi'] - r['lo']) / 2 for r in rows if r['value'] is not None]
    return float(np.median(w)) if w else float('nan')


def line(title, rows, test=inside):
    print('  %-34s RMSE %5.2f  half width %5.2f  held %s' % (title, rmse(rows), half(rows), wilson(sum(map(test, rows)), len(rows))))


def table(rows):
    phases = [r for r in rows if r['phase'] != 'amorphous']
    glass = [r for r in rows if r['phase'] == 'amorphous']
    fine = [r for r in phases if r['kind'] not in ('coarse', 'rough')]
    print('%d mixtures, %d fractions; RMSE and median half width of the 95 %% interval in wt%%' % (len({r['scan'] for r in rows}), len(phases)))
    line('fine powders, all', fine)
    line('  untextured', [r for r in fine if r['kind'] != 'textured'])
    line('  untextured, no undeclared length', [r for r in fine if r['kind'] != 'textured' and r['short'] != 'undeclared'])
    for k in ('plain', 'textured', 'spiked', 'low'):
        line('  ' + k, [r for r in fine if r['kind'] == k])
    for x in ('Cu', 'Co', 'Mo'):
        line('  ' + x, [r for r in fine if r['radiation'] == x])
    line('  major (above 20 wt%)', [r for r in fine if r['truth'] > 20])
    line('  minor (up to 20 wt%)', [r for r in fine if r['truth'] <= 20])
    for s in ('declared', 'undeclared'):
        line('  short specimen, ' + s, [r for r in fine if r['short'] == s])
    line('amorphous part (spiked)', glass)
    line('lines scatter by 10 to 30 %', [r for r in phases if r['kind'] == 'rough'])
    line('coarse section, band', [r for r in phases if r['kind'] == 'coarse'], bracketed)


def figure(path, rows):
    """calibration: which share of the truths lies within the central interval of a given probability, from the intervals' own ends"""
    fine = [r for r in rows if r['kind'] not in ('coarse', 'rough') and r['value'] is not None and r['hi'] > r['lo']]
    scaled = []
    for r in fine:
        side = r['hi'] - r['value'] if r['truth'] > r['value'] else r['value'] - r['lo']
        scaled.append(abs(r['truth'] - r['value']) / side if side > 0 else (0.0 if r['truth'] == r['value'] else 99.0))
    from math import erf
    size, left = 420, 60
    at = lambda p: left + p * size
    up = lambda p: 20 + (1 - p) * size
    stated = np.linspace(0.02, 0.995, 60)
    half_width = [quantile(p) / 1.95996 for p in stated]
    seen = [float(np.mean(np.array(scaled) <= h)) for h in half_width]
    points = ' '.join('%.1f,%.1f' % (at(p), up(s)) for p, s in zip(stated, seen))
    band = [1.96 * math.sqrt(p * (1 - p) / len(fine)) for p in stated]
    shade = ' '.join('%.1f,%.1f' % (at(p), up(min(1, p + b))) for p, b in zip(stated, band)) + ' ' + \
        ' '.join('%.1f,%.1f' % (at(p), up(max(0, p - b))) for p, b in reversed(list(zip(stated, band))))
    ticks = ''.join('<text x="%.0f" y="%.0f" text-anchor="middle">%d</text><text x="%.0f" y="%.0f" text-anchor="end">%d</text>' %
                    (at(p), up(0) + 18, 100 * p, left - 6, up(p) + 4, 100 * p) for p in (0, .25, .5, .75, .95))
    with open(path, 'w', encoding='utf-8') as f:
        f.write('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 500 500" font-family="sans-serif" font-size="12">'
                '<title>Calibration of the intervals of %d fractions and amorphous parts, simulated</title>'
                '<rect width="500" height="500" fill="white"/><polygon points="%s" fill="#d8dee6"/>'
                '<path d="M%.0f %.0fL%.0f %.0f" stroke="#888" stroke-dasharray="4 3"/><polyline points="%s" fill="none" stroke="#1b5e8c" stroke-width="2"/>%s'
                '<text x="270" y="492" text-anchor="middle">stated probability of the interval, %%</text>'
                '<text transform="translate(16 230) rotate(-90)" text-anchor="middle">truths inside, %%</text></svg>\n' %
                (len(fine), shade, at(0), up(0), at(1), up(1), points, ticks))


def quantile(p):
    """half width, in standard deviations, of the central Gaussian interval of probability p"""
    lo, hi = 0.0, 6.0
    for _ in range(60):
        mid = (lo + hi) / 2
        lo, hi = (mid, hi) if math.erf(mid / math.sqrt(2)) < p else (lo, mid)
    return lo


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument('--binary', default=os.path.join(ROOT, 'phasetally'))
    p.add_argument('--work', default='quality-quantify')
    p.add_argument('--first', type=int, default=0)
    p.add_argument('--count', type=int, default=330)
    p.add_argument('--jobs', type=int, default=1)
    p.add_argument('--kinds', default=','.join(sorted(set(KINDS))), help='only these kinds')
    p.add_argument('--make', action='store_true', help='only make the scans')
    p.add_argument('--undeclared', action='store_true', help='say neither powder nor section')
    p.add_argument('--figure', default='')
    p.add_argument('--cif', default=os.path.join(ORACLE, 'cif'))
    a = p.parse_args()
    os.makedirs(a.work, exist_ok=True)
    numbers = [n for n in range(a.first, a.first + a.count) if KINDS[n % len(KINDS)] in a.kinds.split(',')]
    with concurrent.futures.ProcessPoolExecutor(a.jobs) as pool:
        if a.make:
            list(pool.map(make, numbers, [a.work] * len(numbers)))
            return
        rows = [r for rs in pool.map(quantified, [(n, a) for n in numbers]) for r in rs]
    with open(os.path.join(a.work, 'fractions.csv'), 'w', encoding='utf-8', newline='') as f:
        w = csv.DictWriter(f, list(rows[0]))
        w.writeheader()
        w.writerows(rows)
    table(rows)
    figure(a.figure or os.path.join(a.work, 'calibration.svg'), rows)


if __name__ == '__main__':
    main()
