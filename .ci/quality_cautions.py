#!/usr/bin/python3
"""Which cautions does the analysis raise when one fault is planted, and which when there is none?
Usage: quality_cautions.py PROGRAM ../shared [SCANS PER FAULT] [CLEAN SCANS]

`simulate` makes scans of mixtures, low-symmetry phases among them, with one fault each; `identify` judges them. Prints for each
fault how often it is named and which other cautions (above a note) are raised. Fails when a fault is named in less than 95 %, another
caution is raised in more than 5 %, or more than 3 % of the clean scans have any."""
import collections, json, os, random, re, subprocess, sys, tempfile

program, shared = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
each = int(sys.argv[3]) if len(sys.argv) > 3 else 20
clean = int(sys.argv[4]) if len(sys.argv) > 4 else 60
MINERALS = [os.path.join(shared, 'data/open/minerals-cif', n + '.cif') for n in ('Albite', 'Muscovite', 'Orthoclase', 'Diopside')]
LIBRARY = [a for m in MINERALS if os.path.exists(m) for a in ('--library', m)]
MIXTURES = [(('copper', 80), ('cuprite', 20)), (('corundum', 60), ('fluorite', 25), ('zincite', 15)), (('gypsum', 70), ('quartz', 30)),
            (('brucite', 55), ('periclase', 45)), (('silicon', 75), ('rutile', 25)), (('nickel', 85), ('bunsenite', 15)), (('iron-alpha', 90), ('cementite', 10)),
            (('zirconia-monoclinic', 65), ('zirconia-tetragonal', 35)), (('cu6sn5-eta', 60), ('cu3sn-epsilon', 40)), (('calcite', 50), ('dolomite', 50))]
if LIBRARY:
    MIXTURES += [(('Albite', 60), ('quartz', 40)), (('Muscovite', 30), ('quartz', 70)), (('Orthoclase', 55), ('Diopside', 45))]
ELEMENTS = {'copper': 'Cu', 'cuprite': 'Cu,O', 'corundum': 'Al,O', 'fluorite': 'Ca,F', 'zincite': 'Zn,O', 'gypsum': 'Ca,S,O,H', 'quartz': 'Si,O', 'brucite': 'Mg,O,H',
            'periclase': 'Mg,O', 'silicon': 'Si', 'rutile': 'Ti,O', 'nickel': 'Ni', 'bunsenite': 'Ni,O', 'iron-alpha': 'Fe', 'cementite': 'Fe,C',
            'zirconia-monoclinic': 'Zr,O', 'zirconia-tetragonal': 'Zr,Y,O', 'cu6sn5-eta': 'Cu,Sn', 'cu3sn-epsilon': 'Cu,Sn', 'calcite': 'Ca,C,O', 'dolomite': 'Ca,Mg,C,O',
            'Albite': 'Na,Al,Si,O', 'Muscovite': 'K,Al,Si,O,H', 'Orthoclase': 'K,Al,Si,O', 'Diopside': 'Ca,Mg,Si,O'}
FLAWED = {  # fault: flags of simulate with {a} for the first phase, cautions that name it
    'displacement': (['--displacement', '0.3'], {'displaced'}), 'texture': (['--texture', '{a}=0,0,1:0.5'], {'texture', 'epitaxial'}),
    'coarse step': (['--step', '0.08'], {'step-too-coarse'}), 'overspill': (['--specimen-length', '6'], {'beam-overspill'}),
    'halo': (['--halo', '3.7:8:400'], {'amorphous-halo'}), 'low counts': (['--rate', '25', '--background', '2'], {'counts-too-low'}),
    'K beta': (['--k-beta', '0.02'], {'k-beta'}), 'W L alpha': (['--w-l-alpha', '0.02'], {'tungsten-line'}), 'few grains': (['--few-grains', '0.5'], {'coarse-grain', 'texture'}),
    'wrong radiation': (['--radiation', 'Co'], {'radiation-doubtful'}), 'grit': (['+sic-6h=4'], {'preparation-artefact'}), 'saturation': ([], {'saturation'}),
    'smoothed': ([], {'not-counts'}), 'stripped Ka2': (['--radiation', '1.54059291', '--range', '20:120'], {'alpha2-missing'}),
    'missing phase': (['+galena=15'], {'unexplained-peaks', 'partly-explained'}), 'filter edge': (['--edge-step', '0.03'], {'edge-step'}),
}


def call(args):
    return subprocess.run([program, *args], capture_output=True, text=True)


def spoil(fault, name):
    head, rows = [], []
    for line in open(name):
        (head if line.startswith('#') else rows).append(line)
    y = [float(r.split()[1]) for r in rows]
    if fault == 'saturation':
        y = [min(v, round(0.35 * max(y))) for v in y]
    if fault == 'smoothed':
        y = [sum(y[max(0, i - 3):i + 4]) / len(y[max(0, i - 3):i + 4]) for i in range(len(y))]
    if fault in ('wrong radiation', 'stripped Ka2'):
        head = ['# radiation: Cu\n' if h.startswith('# radiation') else h for h in head if not h.startswith('# wavelength')]
        if fault == 'stripped Ka2' and not any('radiation' in h for h in head):
            head.append('# radiation: Cu\n')
    with open(name, 'w') as f:
        f.writelines(head)
        f.writelines(f'{r.split()[0]} {v:g}\n' for r, v in zip(rows, y))


def cautions(fault, flags, seed, folder):
    mix = MIXTURES[seed % len(MIXTURES)]
    extra = [f[1:].split('=') for f in flags if f.startswith('+')]
    left = 100 - sum(float(w) for _, w in extra)
    parts = [(i, w * left / 100) for i, w in mix] + [(i, float(w)) for i, w in extra]
    name = os.path.join(folder, f'{fault.replace(" ", "-")}-{seed}.xy')
    args = ['simulate', *LIBRARY, '--slit', 'fixed:1', '--rate', '4000', '--background', '20', '--step', '0.01', '--seed', str(seed), '--out', name]
    args += [f'--phase={i}={w:g}' for i, w in parts] + [f.replace('{a}', mix[0][0]) for f in flags if not f.startswith('+')]
    out = call(args)
    if out.returncode:
        raise SystemExit(f'{args}\n{out.stderr}')
    if fault in ('saturation', 'smoothed', 'wrong radiation', 'stripped Ka2'):
        spoil(fault, name)
    elements = ','.join(sorted(set(','.join(ELEMENTS[i] for i, _ in mix).split(','))))
    out = call(['identify', name, *LIBRARY, '--elements', elements, '--format', 'json'])
    if out.returncode not in (0, 3):
        return None
    doc = json.loads(out.stdout)
    return [(c['code'], c['severity']) for c in doc['cautions']]


def main():
    good = True
    with tempfile.TemporaryDirectory() as folder:
        for fault, (flags, names) in [('none', ([], set()))] + list(FLAWED.items()):
            n = clean if fault == 'none' else each
            named, wrong, others = 0, 0, collections.Counter()
            for seed in range(n):
                found = cautions(fault, flags, seed, folder)
                if found is None:
                    others['refused'] += 1
                    continue
                named += any(c in names for c, _ in found)
                beside = {c for c, s in found if s != 'note' and c not in names and not c.startswith('structure-')}  # those are of the CIF
                wrong += bool(beside)
                others.update(beside)
            told = ', '.join(f'{c} {k}' for c, k in others.most_common(6))
            if fault == 'none':
                print(f'| none | | {100 * wrong / n:.0f} % | {told} |', flush=True)
                good = good and wrong / n <= 0.03
            else:
                print(f'| {fault} | {100 * named / n:.0f} % | {100 * wrong / n:.0f} % | {told} |', flush=True)
                good = good and named / n >= 0.95 and wrong / n <= 0.05
    sys.exit(not good)


main()
