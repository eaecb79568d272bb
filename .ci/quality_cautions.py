#!/usr/bin/python3
"""Which cautions does the analysis raise when one fault is planted, and which when there is none?
Usage: quality_cautions.py PROGRAM ../shared [SCANS PER FAULT] [CLEAN SCANS] [FAULT,...]

`simulate` makes scans of mixtures, low-symmetry phases among them, with one fault each; `identify` judges them. Prints for each
fault how often it is named and in how many scans other cautions (above a note, or that name another of these faults) are raised, and which. Fails when a fault is named in
less than 95 %, another caution is raised in more than 5 %, or more than 3 % of the clean scans have any. CAUTIONS_VERBOSE=1 tells each
scan with another caution. Needs numpy."""
import collections, concurrent.futures, csv, json, math, os, subprocess, sys, tempfile

import numpy as np

program, shared = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
each = int(sys.argv[3]) if len(sys.argv) > 3 else 20
clean = int(sys.argv[4]) if len(sys.argv) > 4 else 60
only = sys.argv[5].split(',') if len(sys.argv) > 5 else None
verbose = os.environ.get('CAUTIONS_VERBOSE')
first = int(os.environ.get('CAUTIONS_FIRST', 0))
MINERALS = [os.path.join(shared, 'data/open/minerals-cif', n + '.cif') for n in ('Albite', 'Muscovite', 'Orthoclase', 'Diopside')]
LIBRARY = [a for m in MINERALS if os.path.exists(m) for a in ('--library', m)]
MIXTURES = [(('copper', 80), ('cuprite', 20)), (('corundum', 60), ('fluorite', 25), ('zincite', 15)), (('gypsum', 70), ('quartz', 30)),
            (('brucite', 55), ('periclase', 45)), (('silicon', 75), ('rutile', 25)), (('nickel', 85), ('bunsenite', 15)), (('iron-alpha', 90), ('cementite', 10)),
            (('zirconia-monoclinic', 65), ('zirconia-tetragonal', 35)), (('cu6sn5-eta', 60), ('cu3sn-epsilon', 40)), (('calcite', 50), ('dolomite', 50))]
if LIBRARY:
    MIXTURES += [(('Albite', 60), ('quartz', 40)), (('Muscovite', 30), ('quartz', 70)), (('Orthoclase', 55), ('Diopside', 45))]
CONTRAST = [(('copper', 70), ('cu3sn-epsilon', 30)), (('silicon', 75), ('rutile', 25)), (('tungsten', 60), ('copper', 40)), (('niobium', 50), ('copper', 50))]
LAYERS = [('bunsenite', 'nickel'), ('cuprite', 'copper'), ('rutile', 'titanium-alpha'), ('magnetite', 'iron-alpha'), ('corundum', 'silicon')]
ELEMENTS = {'copper': 'Cu', 'cuprite': 'Cu,O', 'corundum': 'Al,O', 'fluorite': 'Ca,F', 'zincite': 'Zn,O', 'gypsum': 'Ca,S,O,H', 'quartz': 'Si,O', 'brucite': 'Mg,O,H',
            'periclase': 'Mg,O', 'silicon': 'Si', 'rutile': 'Ti,O', 'nickel': 'Ni', 'bunsenite': 'Ni,O', 'iron-alpha': 'Fe', 'cementite': 'Fe,C', 'tungsten': 'W', 'niobium': 'Nb',
            'zirconia-monoclinic': 'Zr,O', 'zirconia-tetragonal': 'Zr,Y,O', 'cu6sn5-eta': 'Cu,Sn', 'cu3sn-epsilon': 'Cu,Sn', 'calcite': 'Ca,C,O', 'dolomite': 'Ca,Mg,C,O',
            'titanium-alpha': 'Ti', 'magnetite': 'Fe,O', 'Albite': 'Na,Al,Si,O', 'Muscovite': 'K,Al,Si,O,H', 'Orthoclase': 'K,Al,Si,O', 'Diopside': 'Ca,Mg,Si,O'}
NAMED_IN_NOTES = {'edge-step', 'k-beta', 'tungsten-line', 'displaced'}  # faults that harm nothing once they are known: told in a note, and counted here
UNEXPLAINED = {'unexplained-peaks', 'partly-explained', 'not-explained'}
FLAWED = {  # fault: flags of simulate with {a} for the first phase, cautions that name it, further flags of identify, the verdict that goes with it
    'displacement': (['--displacement', '0.3'], {'displaced'}), 'texture': (['--texture', '{a}=0,0,1:0.5'], {'texture', 'epitaxial'}),
    'coarse step': (['--step', '0.08'], {'step-too-coarse'}), 'overspill': (['--specimen-length', '6'], {'beam-overspill'}),
    'halo': (['--halo', '3.7:8:400'], {'amorphous-halo'}), 'low counts': (['--rate', '25', '--background', '2'], {'counts-too-low'}),
    'K beta': (['--k-beta', '0.02'], {'k-beta'}), 'W L alpha': (['--w-l-alpha', '0.015'], {'tungsten-line'}), 'few grains': (['--few-grains', '0.5'], {'coarse-grain', 'texture'}),
    'wrong radiation': (['--radiation', 'Co'], {'radiation-doubtful'}, [], {'not-explained', 'partly-explained'}), 'grit': (['+sic-6h=4'], {'preparation-artefact'}), 'saturation': ([], {'saturation'}),
    'smoothed': ([], {'not-counts'}), 'stripped Ka2': (['--radiation', '1.54059291', '--range', '20:120'], {'alpha2-missing'}),
    'missing phase': (['+galena=15'], UNEXPLAINED, ['--exclude', 'galena']), 'missing element': (['+galena=15'], UNEXPLAINED),
    'filter edge': (['--edge-step', '0.03'], {'edge-step'}), 'coarse grain': (['--intercept', 'inf'], {'microabsorption'}, ['--section', 'transverse']),
    'mixed RIR': ([], {'mixed-rir'}), 'layer': ([], {'layered'}),
}
OF = {'coarse grain': CONTRAST, 'mixed RIR': MIXTURES[:10]}


def call(args):
    return subprocess.run([program, *args], capture_output=True, text=True, check=False)


def read(name):
    head, rows = [], []
    with open(name, encoding='utf-8') as f:
        for line in f:
            (head if line.startswith('#') else rows).append(line)
    return head, np.array([[float(v) for v in r.split()[:2]] for r in rows])


def write(name, head, x, y):
    with open(name, 'w', encoding='utf-8') as f:
        f.writelines(head)
        f.writelines('%.4f %g\n' % p for p in zip(x, y))


def spoil(fault, name):
    head, p = read(name)
    y = p[:, 1]
    if fault == 'saturation':
        y = np.minimum(y, round(0.35 * y.max()))
    if fault == 'smoothed':
        y = np.convolve(np.pad(y, 3, 'edge'), np.ones(7) / 7, 'valid')
    if fault in ('wrong radiation', 'stripped Ka2'):
        head = [h for h in head if not h.startswith(('# radiation', '# wavelength'))] + ['# radiation: Cu\n']
    write(name, head, p[:, 0], y)


def made(args, name):
    out = call(['simulate', *LIBRARY, '--slit', 'fixed:1', '--rate', '4000', '--background', '20', '--step', '0.01', '--out', name, '--force', *args])
    if out.returncode:
        raise SystemExit(f'{args}\n{out.stderr}')


def layer(seed, name):
    """a layer that weakens what lies beneath by exp(-2 mu t/sin theta), 2 mu t from 0.15 to 0.4"""
    above, beneath = LAYERS[seed % len(LAYERS)]
    scans = []
    for phase in (above, beneath):
        made([f'--phase={phase}=100', '--no-noise', '--background', '0'], name)
        head, p = read(name)
        scans.append(p[:, 1])
    rng = np.random.default_rng(seed)
    through = np.exp(-rng.uniform(.15, .4) / np.sin(np.radians(p[:, 0] / 2)))
    write(name, head, p[:, 0], rng.poisson(scans[0] * (1 - through) + scans[1] * through + 20))
    return ((above, 50), (beneath, 50))


def cautions(fault, seed, folder):
    flags, _, *more = FLAWED.get(fault, ([], set()))
    list_of = OF.get(fault, MIXTURES)
    mix = list_of[seed % len(list_of)]
    name = os.path.join(folder, f'{fault.replace(" ", "-")}-{seed}.xy')
    if fault == 'layer':
        mix = layer(seed, name)
    else:
        extra = [f[1:].split('=') for f in flags if f.startswith('+')]
        left = 100 - sum(float(w) for _, w in extra)
        parts = [(i, w * left / 100) for i, w in mix] + [(i, float(w)) for i, w in extra]
        made(['--seed', str(seed + 1), *[f'--phase={i}={w:g}' for i, w in parts], *[f.replace('{a}', mix[0][0]) for f in flags if not f.startswith('+')]], name)
    if fault in ('saturation', 'smoothed', 'wrong radiation', 'stripped Ka2'):
        spoil(fault, name)
    elements = set(','.join(ELEMENTS[i] for i, _ in mix).split(','))
    if fault == 'missing phase':
        elements |= {'Pb', 'S'}
    args = [*LIBRARY, *(more[0] if more and '--section' in more[0] else ['--section', 'powder', *(more[0] if more else [])])]
    if fault == 'mixed RIR':  # one phase by a list with a measured ratio
        own = name + '.csv'
        rows = call(['lines', mix[1][0], '--format', 'csv']).stdout.splitlines()
        lines = list(csv.DictReader(rows))
        with open(own, 'w', encoding='utf-8') as f:
            f.write('phase,d,intensity,formula,rir,density\n')
            for k, l in enumerate(lines):
                if float(l['intensity']) >= 0.05:
                    f.write(f'own {mix[1][0]},{l["d"]},{l["intensity"]},' + (f'{lines[0]["formula"]},{lines[0]["rir"]},{lines[0]["density"]}\n' if k == 0 else ',,\n'))
        args += ['--library', own, '--exclude', mix[1][0]]
    out = call(['identify', name, *args, '--elements', ','.join(sorted(elements)), '--format', 'json'])
    if out.returncode not in (0, 3):
        return mix, None, out.stderr.strip()
    doc = json.loads(out.stdout)
    return mix, [(c['code'], c['severity'], c['text']) for c in doc['cautions']], [p['id'] for p in doc['phases']]


def main():
    good = True
    print('| planted | named | another caution | which |\n|---|---|---|---|')
    with tempfile.TemporaryDirectory() as folder, concurrent.futures.ThreadPoolExecutor(int(os.environ.get("CAUTIONS_WORKERS", 2))) as pool:
        for fault in ['none', *FLAWED]:
            if only and fault not in only:
                continue
            names = FLAWED[fault][1] if fault in FLAWED else set()
            goes_with = FLAWED[fault][3] if len(FLAWED.get(fault, ())) > 3 else set()
            n = clean if fault == 'none' else each
            named, wrong, others = 0, 0, collections.Counter()
            for seed, (mix, found, told) in enumerate(pool.map(lambda s: cautions(fault, s, folder), range(first, first + n)), first):
                if found is None:
                    others['refused'] += 1
                    print('   refused', fault, mix, told, file=sys.stderr)
                    continue
                named += any(c in names for c, _, _ in found)
                beside = {c for c, s, _ in found if (s != 'note' or c in NAMED_IN_NOTES) and c not in names | goes_with and not c.startswith('structure-')}  # those are of the CIF
                if fault == 'mixed RIR':
                    beside -= {'few-lines'}
                wrong += bool(beside)
                others.update(beside)
                if verbose and (beside or names and not any(c in names for c, _, _ in found)):
                    print('  ', fault, seed, '+'.join(i for i, _ in mix), '->', '+'.join(told), [c for c, s, _ in found if s != 'note'], [t[:150] for c, _, t in found if c in beside][:2], file=sys.stderr)
            told = ', '.join(f'{c} {k}' for c, k in others.most_common(6))
            if fault == 'none':
                print(f'| none ({n}) | | {100 * wrong / n:.0f} % | {told} |', flush=True)
                good = good and wrong / n <= 0.03
            else:
                print(f'| {fault} | {100 * named / n:.0f} % | {100 * wrong / n:.0f} % | {told} |', flush=True)
                good = good and named / n >= 0.95 and wrong / n <= 0.05
    sys.exit(not good)


main()
