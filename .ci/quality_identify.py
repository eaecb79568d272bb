#!/usr/bin/python3
"""Measures how far identification can be trusted, on mixtures made by the independent simulator of ../shared/oracle.

    .ci/quality_identify.py --binary ./phasetally [--work FOLDER] [--first 0] [--count 200] [--parts mixtures,absent,leaveout] [--label run] [--synthetic LIBRARY]

Run from the project root with the system python (python3-gemmi, python3-xraylib, python3-numpy). Every mixture follows from its number
alone; scans are kept in FOLDER and made once. All compositions are invented.

mixtures: 1 to 5 of the oracle's structures with Cu, Co or Mo, displaced, textured, with haloes and Kβ; every second one departs from the
ideal (short specimen, few grains, filter edge, wrong displacement parameters, tails, an automatic slit that nobody declared). The library is
all of the oracle's structures. A phase counts for recall when its true fraction is at least twice the detection limit that the program itself
gives for it when told all phases. A reported phase that is not in the mixture is false, also when the true one stands among its alternatives:
that is counted apart. With everything there, the verdict must be "complete"; mixtures with a phase that was missed are counted apart.

absent: one phase of each mixture is taken out of the library and a large synthetic library (SYNTHETIC, made by
SYNTHETIC_LIBRARY=… go test ./xrd/xrdtest -run TestWriteSyntheticLibrary) put in: whatever the program names of it is false. Names whose
reference lines are those of a phase of the mixture are counted apart: the search must allow every cell to change by 0.7 % (3 % where
solid solutions form), and no diffraction tells such a pair apart. That is judged from the two lists alone: every line above 10 % of either
down to 0.85 Å has a partner within 0.1 % of spacing, once all spacings of one are changed by a common factor of that reach, with an intensity within a
factor of 2. The recall of the other phases of the mixtures, among the invented ones, is given beside it: naming nothing is no way to be right.

leaveout: as absent, but nothing is put in for the phase that is taken out: the library is the rest of the oracle's structures. With elements
of the whole mixture and without. Whatever is named that is not in the mixture is wrong; where the phase that is missing is above twice its
limit, the verdict must not be "complete". Names with the very lines of the phase that is missing (as above) are counted apart. A run that is cut
off goes on where it was, with the same --work and --label; --only-kept counts what is there and searches nothing.
"""
import argparse
import collections
import concurrent.futures
import csv
import functools
import json
import math
import os
import subprocess
import sys

import numpy as np

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), '..')
ORACLE = os.path.join(ROOT, '..', 'shared', 'oracle')
sys.path.insert(0, ORACLE)

RANGES = {'Cu': (10, 100, .02), 'Co': (15, 115, .02), 'Mo': (8, 52, .01)}
POLES = [[1, 1, 1], [1, 0, 0], [1, 1, 0], [0, 0, 1]]


def recipe(number, names):
    """the mixture of this number: what simulate() is called with, and the truth"""
    rng = np.random.default_rng(90000 + number)
    rad = str(rng.choice(['Cu', 'Co', 'Mo'], p=[.6, .2, .2]))
    phases = [str(p) for p in rng.choice(names, size=int(rng.integers(1, 6)), replace=False)]
    weights = np.exp(rng.normal(0, 1.2, len(phases)))
    glass = float(rng.uniform(.05, .3)) if rng.random() < .2 else 0.0
    weights *= (1 - glass) / weights.sum()
    mix = [dict(phase=p, w=float(w), scale=float(1 + rng.normal() * 3e-4), size=float(rng.choice([0, 0, 2000, 800, 300])) or None,
                strain=float(rng.choice([0, 0, 5e-4, 1e-3])),
                md=(POLES[rng.integers(4)], float(np.exp(rng.normal(0, .25)))) if rng.random() < .3 else None)
           for p, w in zip(phases, weights)]
    lo, hi, step = RANGES[rad]
    options = dict(rad=rad, tmin=lo, tmax=hi, step=step, time=float(rng.choice([.3, 1, 3])), rate113=float(rng.choice([2000, 4000])),
                   seed=int(number), zero=float(rng.uniform(-.02, .02)), disp=float(np.clip(rng.normal(0, .15), -.45, .45)),
                   axial=float(rng.choice([0, .03])), kbeta=float(rng.choice([0, .005, .01])), overspill=float(rng.choice([0, 0, .3, .5])))
    if rad == 'Mo':
        options.update(U=.002, V=-.0012, W=.0016, X=.008, Y=.012)
    departures = {}
    if number % 2:
        for name, value in (('length', rng.uniform(8, 18)), ('line_scatter', rng.uniform(.04, .15)), ('edge', rng.uniform(.02, .08)),
                            ('bperturb', rng.uniform(.1, .3)), ('tails', rng.uniform(.05, .15)), ('auto_slit', True)):
            if rng.random() < .4 and not (name == 'auto_slit' and 'length' in departures) and not (name == 'edge' and rad != 'Cu'):
                departures[name] = value if name == 'auto_slit' else float(value)
    amorphous = dict(kind=str(rng.choice(['resin', 'silica'])), w=glass) if glass else None
    return mix, amorphous, options, departures


def names_of_structures():
    return sorted(f[:-5] for f in os.listdir(os.path.join(ORACLE, 'structures')) if f.endswith('.json'))


def make(number, folder):
    """writes scan and truth unless they are there; returns the path of the scan"""
    base = os.path.join(folder, '%04d' % number)
    if not os.path.exists(base + '.json'):
        from simulate import simulate
        mix, amorphous, options, departures = recipe(number, names_of_structures())
        x, counts, _ = simulate(mix, amorphous=amorphous, **options, **departures)
        with open(base + '.xy', 'w', encoding='utf-8') as f:
            f.write('# simulated, invented composition\n# radiation: %s\n' % options['rad'])
            f.writelines('%.3f %d\n' % p for p in zip(x, counts))
        crystalline = sum(m['w'] for m in mix)
        truth = dict(phases={m['phase']: 100 * m['w'] / crystalline for m in mix}, departures=departures, radiation=options['rad'], displacement=options['disp'])
        with open(base + '.json', 'w', encoding='utf-8') as f:
            json.dump(truth, f)
    return base


def elements_of(phases):
    found = set()
    for p in phases:
        with open(os.path.join(ORACLE, 'structures', p + '.json'), encoding='utf-8') as f:
            found |= {a['el'] if 'el' in a else a['element'] for a in json.load(f)['atoms']}
    return sorted(found)


def call(binary, args):
    done = subprocess.run([binary] + args + ['--format', 'json', '--jobs', '1'], capture_output=True, text=True, check=False)
    if done.returncode not in (0, 3):
        raise RuntimeError('%s: exit %d: %s' % (' '.join(args), done.returncode, done.stderr.strip()))
    return json.loads(done.stdout)


def judge(number, a, extra):
    """one scan, one way to call: rows (phase, kind, …)"""
    base = make(number, a.work)
    with open(base + '.json', encoding='utf-8') as f:
        truth = json.load(f)
    doc = call(a.binary, ['identify', base + '.xy'] + extra(truth))
    return base, truth, doc


def limits(base, truth, a):
    """detection limit of every true phase, by the program, when told all of them; kept beside the scan"""
    path = base + '.limits.json'
    if not os.path.exists(path):
        args = ['quantify', base + '.xy', '--library', a.cif, '--no-starter', '--section', 'powder']
        for p in truth['phases']:
            args += ['--phase', p]
        doc = call(a.binary, args)
        with open(path, 'w', encoding='utf-8') as f:
            json.dump({p['id']: p['detection_limit_weight_percent'] for p in doc['phases']}, f)
    with open(path, encoding='utf-8') as f:
        return json.load(f)


def kept(name):
    """keeps what a job finds beside the scan, so that a run that was cut off goes on where it was"""
    def wrap(job):
        number, a, with_elements = job
        path = os.path.join(a.work, a.label, '%04d.%s.json' % (number, name + ('-elements' if with_elements else '')))
        if not os.path.exists(path):
            if a.only_kept:
                return []
            rows = globals()[name + '_rows'](job)
            with open(path, 'w', encoding='utf-8') as f:
                json.dump(rows, f)
        with open(path, encoding='utf-8') as f:
            return json.load(f)
    return wrap


def mixture(job):
    return kept('mixture')(job)


def absent(job):
    return kept('absent')(job)


def mixture_rows(job):
    number, a, with_elements = job
    base, truth, doc = judge(number, a, lambda t: ['--library', a.cif, '--no-starter'] + (['--elements', ','.join(elements_of(t['phases']))] if with_elements else []))
    limit = limits(base, truth, a)
    rows = []
    found = {p['id']: p for p in doc['phases']}
    for p, w in truth['phases'].items():
        seen = bool(limit.get(p)) and w >= 2 * limit[p]
        other = [q['id'] for q in doc['phases'] if q['id'] not in truth['phases'] and p in [x['id'] for x in q['alternatives']]]
        rows.append(dict(scan=number, phase=p, kind='true', expected=seen, found=p in found, alternative_of=';'.join(other), weight=round(w, 3),
                         limit=limit.get(p), word=found[p]['evidence'] if p in found else ''))
    for p, q in found.items():
        if p not in truth['phases']:
            of = [x['id'] for x in q['alternatives'] if x['id'] in truth['phases']]
            rows.append(dict(scan=number, phase=p, kind='false', expected='', found=True, alternative_of=';'.join(of),
                             weight=round(q['weight_percent'] or 0, 3), limit=q['detection_limit_weight_percent'], word=q['evidence']))
    rows.append(dict(scan=number, phase='', kind='scan', expected='', found=False, alternative_of='', weight='', limit='', word=verdict_of(doc)))
    for r in rows:
        r.update(radiation=truth['radiation'], departures=' '.join(truth['departures']))
    return rows


def absent_rows(job):
    number, a, _ = job
    base = make(number, a.work)
    with open(base + '.json', encoding='utf-8') as f:
        truth = json.load(f)
    out = sorted(truth['phases'])[number % len(truth['phases'])]
    args = ['identify', base + '.xy', '--no-starter', '--library', a.synthetic]
    for p in truth['phases']:
        if p != out:
            args += ['--library', os.path.join(a.cif, p + '.cif')]
    doc = call(a.binary, args)
    limit = limits(base, truth, a)
    rows = []
    found = {p['id']: p['evidence'] for p in doc['phases']}
    for p, w in truth['phases'].items():
        if p != out:
            rows.append(dict(scan=number, phase=p, kind='true', expected=bool(limit.get(p)) and w >= 2 * limit[p], found=p in found, word=found.get(p, ''),
                             absent=out, share=round(truth['phases'][out], 2), weight=round(w, 3), lines_of='', radiation=truth['radiation'],
                             departures=' '.join(truth['departures'])))
    for p in doc['phases']:
        if p['id'] in truth['phases']:
            continue
        lines, reach = reference(a.binary, p['id'], a.synthetic)
        same = [t for t in truth['phases'] if alike(lines, reference(a.binary, t, os.path.join(a.cif, t + '.cif'))[0], reach)]
        rows.append(dict(scan=number, phase=p['id'], kind='false', expected='', found=True, word=p['evidence'], absent=out, share=round(truth['phases'][out], 2),
                         weight=p['weight_percent'], lines_of=';'.join(same), radiation=truth['radiation'], departures=' '.join(truth['departures'])))
    return rows


def leaveout(job):
    return kept('leaveout')(job)


def leaveout_rows(job):
    number, a, with_elements = job
    base = make(number, a.work)
    with open(base + '.json', encoding='utf-8') as f:
        truth = json.load(f)
    out = sorted(truth['phases'])[number % len(truth['phases'])]
    args = ['identify', base + '.xy', '--no-starter']
    for name in names_of_structures():
        if name != out:
            args += ['--library', os.path.join(a.cif, name + '.cif')]
    if with_elements:
        args += ['--elements', ','.join(elements_of(truth['phases']))]
    doc = call(a.binary, args)
    limit = limits(base, truth, a)
    rows = [dict(scan=number, phase='', kind='scan', word='', verdict=verdict_of(doc), absent=out, share=round(truth['phases'][out], 2),
                 expected=bool(limit.get(out)) and truth['phases'][out] >= 2 * limit[out], lines_of='')]
    for p in doc['phases']:
        true = p['id'] in truth['phases']
        rows.append(dict(scan=number, phase=p['id'], kind='true' if true else 'false', word=p['evidence'], verdict='', absent=out, share='', expected='',
                         lines_of='' if true else ';'.join(same_lines(a, p['id'], truth['phases']))))
    return rows


def same_lines(a, phase, others):
    """which others have the lines of a phase, but for a common factor that a cell may be changed by"""
    lines, reach = reference(a.binary, phase, os.path.join(a.cif, phase + '.cif'))
    return [t for t in others if alike(lines, reference(a.binary, t, os.path.join(a.cif, t + '.cif'))[0], reach)]


def verdict_of(doc):
    for key in ('explained', 'explanation', 'coverage'):
        if isinstance(doc.get(key), dict):
            return doc[key].get('verdict', '')
    return doc.get('verdict', '')


REACH, SOLUBLE_REACH, SPACING, INTENSITY, STRONG, LEAST = .007, .03, .001, 2.0, 10.0, .85


@functools.lru_cache(maxsize=None)
def reference(binary, phase, library):
    """lines (d, intensity) for copper, down to a little below LEAST, and how far the cell may be changed"""
    done = subprocess.run([binary, 'library', 'show', phase, '--no-starter', '--library', library], capture_output=True, text=True, check=True)
    rows = [line.split() for line in done.stdout.splitlines()]
    start = next(i for i, r in enumerate(rows) if r[:3] == ['h', 'k', 'l'])
    lines = [(float(r[3]), float(r[6])) for r in rows[start + 1:] if len(r) == 7]
    return [x for x in lines if x[0] > .8], SOLUBLE_REACH if 'solid solutions' in done.stdout else REACH


def merged(lines):
    """lines that no scan tells apart are one"""
    out = []
    for d, i in sorted(lines):
        if out and d < out[-1][0] * (1 + 2 * SPACING):
            sum_i = out[-1][1] + i
            out[-1] = ((out[-1][0] * out[-1][1] + d * i) / sum_i, sum_i)
        else:
            out.append((d, i))
    most = max(i for _, i in out)
    return [(d, 100 * i / most) for d, i in out]


def alike(a, b, reach):
    """whether two lists are the same lines but for a common factor"""
    a, b = merged(a), merged(b)

    def partners(x, y, f):
        return all(any(abs(d * f / e - 1) < SPACING and 1 / INTENSITY < i / j < INTENSITY for e, j in y) for d, i in x if i >= STRONG and d > LEAST)
    strongest = max(a, key=lambda x: x[1])
    for e, _ in b:
        f = e / strongest[0]
        if abs(f - 1) <= reach and partners(a, b, f) and partners(b, a, 1 / f):
            return True
    return False


def percent(part, whole):
    """share with its 95 % interval (Wilson)"""
    if not whole:
        return '–'
    p, z = part / whole, 1.96
    mid, half = (p + z * z / (2 * whole)) / (1 + z * z / whole), z * math.sqrt(p * (1 - p) / whole + z * z / (4 * whole * whole)) / (1 + z * z / whole)
    return '%.2f %% (%d of %d; %.1f–%.1f)' % (100 * p, part, whole, 100 * (mid - half), 100 * (mid + half))


def table(title, rows):
    expected = [r for r in rows if r['kind'] == 'true' and r['expected']]
    reported = [r for r in rows if r['found']]
    false = [r for r in rows if r['kind'] == 'false']
    established = [r for r in reported if r['word'] == 'established']
    print(title)
    print('  recall of phases at 2 limits and above     ', percent(sum(r['found'] for r in expected), len(expected)))
    print('    the same, alternatives of a false counted', percent(sum(bool(r['found'] or r['alternative_of']) for r in expected), len(expected)))
    print('  false among the reported                   ', percent(len(false), len(reported)))
    print('    of these without the true one beside it  ', percent(sum(not r['alternative_of'] for r in false), len(reported)))
    print('  true among the established                 ', percent(sum(r['kind'] == 'true' for r in established), len(established)))
    scans = {r['scan']: r['word'] for r in rows if r['kind'] == 'scan'}
    missed = {r['scan'] for r in expected if not r['found']}
    whole = [w for s, w in scans.items() if s not in missed]
    print('  "complete", where no phase was missed      ', percent(sum(w == 'complete' for w in whole), len(whole)))
    print('    the same, of all                         ', percent(sum(w == 'complete' for w in scans.values()), len(scans)))
    words = collections.Counter((r['word'], r['kind']) for r in reported)
    print('  words: ' + ', '.join('%s %d true %d false' % (w, words[w, 'true'], words[w, 'false']) for w in ('established', 'probable', 'tentative')))


def write(path, rows):
    if rows:
        with open(path, 'w', encoding='utf-8', newline='') as f:
            w = csv.DictWriter(f, list(rows[0]))
            w.writeheader()
            w.writerows(rows)


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument('--binary', default=os.path.join(ROOT, 'phasetally'))
    p.add_argument('--work', default='quality-identify')
    p.add_argument('--first', type=int, default=0)
    p.add_argument('--count', type=int, default=200)
    p.add_argument('--jobs', type=int, default=1)
    p.add_argument('--parts', default='mixtures')
    p.add_argument('--synthetic')
    p.add_argument('--label', default='run', help='folder in FOLDER for what this binary finds')
    p.add_argument('--only-kept', action='store_true', help='count what earlier runs have kept')
    p.add_argument('--cif', default=os.path.join(ORACLE, 'cif'))
    a = p.parse_args()
    os.makedirs(os.path.join(a.work, a.label), exist_ok=True)
    numbers = range(a.first, a.first + a.count)
    with concurrent.futures.ProcessPoolExecutor(a.jobs) as pool:
        if 'make' in a.parts:
            list(pool.map(make, numbers, [a.work] * len(numbers)))
        if 'mixtures' in a.parts:
            for with_elements, title in ((True, 'with --elements'), (False, 'without elements')):
                rows = [r for rs in pool.map(mixture, [(n, a, with_elements) for n in numbers]) for r in rs]
                write(os.path.join(a.work, 'with.csv' if with_elements else 'without.csv'), rows)
                table('%d mixtures, %s' % (len({r['scan'] for r in rows}), title), rows)
                sys.stdout.flush()
        if 'leaveout' in a.parts:
            list(pool.map(leaveout, [(n, a, e) for n in numbers for e in (True, False)]))  # what is kept when a run is cut off is of both kinds
            for with_elements, title in ((True, 'with --elements'), (False, 'without elements')):
                rows = [r for rs in pool.map(leaveout, [(n, a, with_elements) for n in numbers]) for r in rs]
                write(os.path.join(a.work, 'leaveout-with.csv' if with_elements else 'leaveout-without.csv'), rows)
                print('%d mixtures with a phase left out of the library, %s' % (len({r['scan'] for r in rows}), title))
                named = [r for r in rows if r['kind'] != 'scan']
                for word in ('established', 'probable', 'tentative'):
                    said = [r for r in named if r['word'] == word]
                    false = [r for r in said if r['kind'] == 'false']
                    print('  wrong among the %-11s                     ' % word, percent(len(false), len(said)))
                    print('    of other lines than the phases of the mixture', percent(sum(not r['lines_of'] for r in false), len(said)))
                scans = [r for r in rows if r['kind'] == 'scan' and r['expected']]
                print('  not "complete" where what is missing is above 2 limits', percent(sum(r['verdict'] != 'complete' for r in scans), len(scans)))
                sys.stdout.flush()
        if 'absent' in a.parts:
            rows = [r for rs in pool.map(absent, [(n, a, None) for n in numbers]) for r in rs]
            write(os.path.join(a.work, 'absent.csv'), rows)
            print('%d scans with a phase missing from the library, beside a synthetic one' % len(numbers))
            for word in ('established', 'probable', 'tentative'):
                false = [r for r in rows if r['kind'] == 'false' and r['word'] == word]
                print('  scans with a false %-11s                    ' % word, percent(len({r['scan'] for r in false}), len(numbers)))
                print('    of other lines than the phases of the mixture', percent(len({r['scan'] for r in false if not r['lines_of']}), len(numbers)))
            expected = [r for r in rows if r['kind'] == 'true' and r['expected']]
            print('  recall of the phases that are in the library      ', percent(sum(r['found'] for r in expected), len(expected)))
            print('    as established or probable                      ', percent(sum(r['word'] in ('established', 'probable') for r in expected), len(expected)))


if __name__ == '__main__':
    main()
