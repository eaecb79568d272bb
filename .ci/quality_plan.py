#!/usr/bin/python3
"""Holds what `phasetally plan` promises against whole programs: `simulate` makes scans, `quantify` judges them.
Usage: quality_plan.py PROGRAM [PLANS] [SCANS] [FIRST PLAN] [FIRST SCAN]   (the last two go on where an earlier run has ended; 0 PLANS or SCANS
leave that part out)

1. Intervals: over PLANS (100) mixtures the half width that the plan states lies within 20 % of the one that the analysis states
   (geometric mean of three scans).
2. Limits: a phase of as much as the detection limit of the plan is named by a search (identify) in 90 to 99 % of SCANS (200) scans,
   and in at most 2 % of as many scans without it."""
import json, math, os, random, subprocess, sys, tempfile

program = os.path.abspath(sys.argv[1])
plans = int(sys.argv[2]) if len(sys.argv) > 2 else 100
scans = int(sys.argv[3]) if len(sys.argv) > 3 else 200
first_plan = int(sys.argv[4]) if len(sys.argv) > 4 else 0
first_scan = int(sys.argv[5]) if len(sys.argv) > 5 else 0
POOL = ['copper', 'cuprite', 'corundum', 'fluorite', 'zincite', 'quartz', 'silicon', 'rutile', 'nickel', 'bunsenite', 'tungsten', 'sic-6h', 'calcite',
        'gypsum', 'brucite', 'halite', 'magnetite', 'hematite', 'cu3sn-epsilon', 'cu6sn5-eta', 'tin-beta', 'niobium', 'nb3sn', 'zirconia-monoclinic']


def call(*args):
    out = subprocess.run([program, *args], capture_output=True, text=True)
    if out.returncode not in (0, 3):
        raise SystemExit(f'{args}\n{out.stderr}')
    return out.stdout


def mixture(mix):
    return [f'--phase={k}={v}' for k, v in mix.items()]


def scan(mix, seed, setup, folder):
    name = os.path.join(folder, f'{seed}.xy')
    call('simulate', *mixture(mix), *setup, '--seed', str(seed), '--out', name, '--force')
    return name


def amounts(name, mix):
    doc = json.loads(call('quantify', name, '--phase', ','.join(mix), '--format', 'json'))
    return {p['id']: p for p in doc['phases']}


def intervals(folder):
    rnd = random.Random(17)
    ratios, skipped = [], 0
    for k in range(first_plan + plans):
        ids = rnd.sample(POOL, rnd.choice([2, 3, 3, 4]))
        parts = [rnd.uniform(0.05, 1) for _ in ids]
        mix = {i: round(100 * p / sum(parts), 1) for i, p in zip(ids, parts)}
        mix[ids[0]] = round(mix[ids[0]] + 100 - sum(mix.values()), 1)
        draws = [rnd.choice([500, 2000, 8000]), rnd.choice([5, 30, 100])]
        if k < first_plan:
            continue
        setup = ['--rate', str(draws[0]), '--background', str(draws[1]), '--step', '0.02', '--range', '15:100', '--section', 'powder']
        plan = json.loads(call('plan', *mixture(mix), *setup, '--no-fluorescence', '--format', 'json'))
        if any(p['weight_percent'] < 2 * (p['detection_limit_weight_percent'] or 100) for p in plan['phases']):
            skipped += 1  # a phase that is not surely found changes what the analysis is of
            continue
        logs = {i: [] for i in ids}
        for seed in range(3):
            found = amounts(scan(mix, 1000 * k + seed + 10, setup, folder), mix)
            for i in ids:
                p = found.get(i)
                if p and p['weight_percent'] is not None:
                    logs[i].append(math.log((p['weight_percent_hi95'] - p['weight_percent_lo95']) / 2))
        for ph in plan['phases']:
            if len(logs[ph['id']]) == 3 and ph['interval_weight_percent']:
                ratios.append((ph['interval_weight_percent'] / math.exp(sum(logs[ph['id']]) / 3), ph['id'], ph['weight_percent'], k))
        if k % 10 == 9:
            print(f'    plans to {k}: {sum(1 / 1.2 <= r[0] <= 1.2 for r in ratios)} of {len(ratios)} phases within 20 %, {skipped} plans left out', flush=True)
    inside = [r for r in ratios if 1 / 1.2 <= r[0] <= 1.2]
    print(f'  intervals: {len(inside)} of {len(ratios)} phases in {plans - skipped} plans ({skipped} with a phase near its limit left out) within 20 % ({100 * len(inside) / len(ratios):.1f} %)')
    for r in sorted(ratios, key=lambda r: -abs(math.log(r[0])))[:5]:
        print(f'    farthest: {r[1]} {r[2]} wt%, plan {r[3]}: {r[0]:.2f} of what the analysis states')
    return len(inside) / len(ratios)


def limit(matrix, minor, elements, folder):
    setup = ['--rate', '2000', '--background', '30', '--step', '0.03', '--range', '20:90']
    planned = lambda w: next(p for p in json.loads(call('plan', f'--phase={matrix}={100 - w}', f'--phase={minor}={w}', *setup, '--no-fluorescence', '--format', 'json'))['phases'] if p['id'] == minor)
    plan = json.loads(call('plan', f'--phase={matrix}=99', f'--phase={minor}=1', *setup, '--no-fluorescence', '--format', 'json'))
    w = round(planned(1)['detection_limit_weight_percent'], 4)
    threshold = plan['scan']['threshold']
    found = invented = 0
    for n, seed in enumerate(range(first_scan, first_scan + scans), 1):
        for there in (w, 0):
            mix = {matrix: round(100 - there, 4), minor: there} if there else {matrix: 100}
            doc = json.loads(call('identify', scan(mix, 50000 + seed, setup, folder), '--elements', elements, '--format', 'json'))
            seen = minor in [p['id'] for p in doc['phases']]
            found, invented = found + (seen and there > 0), invented + (seen and there == 0)
        if n % 10 == 0:
            print(f'    {minor} in {matrix}: {found} of {n} named, {invented} declared without it', flush=True)
    print(f'  limit of {minor} in {matrix}: {w} wt% at {threshold:.2f} σ; named by a search in {100 * found / scans:.1f} % of {scans}, declared without it {100 * invented / scans:.1f} %')
    return found / scans, invented / scans


def main():
    with tempfile.TemporaryDirectory() as folder:
        good = intervals(folder) >= 0.9 if plans else True
        for matrix, minor, elements in (('silicon', 'quartz', 'Si'), ('copper', 'cuprite', 'Cu')) if scans else ():
            found, invented = limit(matrix, minor, elements, folder)
            good = good and 0.90 <= found <= 0.99 and invented <= 0.02
    sys.exit(not good)


main()
