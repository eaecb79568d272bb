#!/usr/bin/python3
"""Compares |F|², multiplicities and completeness of lines with an independent structure-factor calculation: oracle_structure.py PROGRAM

Random structures from fixed seeds: every space-group setting has the same chance; atoms on general and on special places,
with occupancies and displacement factors; symmetry told by operators, by Hall symbol or by Hermann-Mauguin symbol. The
other side is gemmi (scattering factors of its own copy of International Tables C, 1992), given the dispersion
corrections that the program embeds. Both copies of the tables have the same digits: |F|² must agree within
1e-5 of itself plus 1e-6 of the largest of the structure.
"""
import csv
import json
import math
import os
import random
import subprocess
import sys
import tempfile

import gemmi

SEED, STRUCTURES = 20240611, 80
REL, ABS = 1e-5, 1e-6
LEAST = 2e-4  # of the strongest reflection: weaker lines need not be listed
WAVELENGTHS = {'Cu': 1.54059291, 'Mo': 0.70931715}  # Kα1, NIST SRD 128
MAX_TWO_THETA = {'Cu': 80.0, 'Mo': 36.0}
ELEMENTS = 'H B C N O F Na Mg Al Si P S Cl K Ca Ti V Cr Mn Fe Co Ni Cu Zn Ga Ge As Sr Y Zr Nb Mo Pd Ag Cd In Sn Sb Te Ba La Ce Nd Gd Yb'.split()
root = os.path.join(os.path.dirname(os.path.abspath(__file__)), '..')


def dispersion(anode):
    """f′ and f″ as the program embeds them: Cromer & Liberman up to Z = 70."""
    with open(os.path.join(root, 'refdata', 'element', 'data', 'dispersion.csv'), encoding='utf-8') as f:
        rows = csv.DictReader(line for line in f if not line.startswith('#'))
        return {r['symbol']: (float(r['fp_cl_' + anode]), float(r['fpp_cl_' + anode])) for r in rows}


def random_cell(rng, group):
    a, b, c = (rng.uniform(3.5, 8) for _ in range(3))
    angles = [rng.uniform(80, 110) for _ in range(3)]
    system = group.crystal_system_str()
    if system == 'cubic':
        return gemmi.UnitCell(a, a, a, 90, 90, 90)
    if system in ('hexagonal', 'trigonal'):
        if group.ext == 'R':
            return gemmi.UnitCell(a, a, a, angles[0], angles[0], angles[0])
        return gemmi.UnitCell(a, a, c, 90, 90, 120)
    if system == 'tetragonal':
        return gemmi.UnitCell(a, a, c, 90, 90, 90)
    if system == 'orthorhombic':
        return gemmi.UnitCell(a, b, c, 90, 90, 90)
    if system == 'monoclinic':
        unique = monoclinic_axis(group)
        return gemmi.UnitCell(a, b, c, *(angles[i] if i == unique else 90 for i in range(3)))
    return gemmi.UnitCell(a, b, c, *angles)


def monoclinic_axis(group):
    """The axis whose sign differs from that of the two others under the two-fold axis or mirror."""
    for op in group.operations().sym_ops:
        diagonal = [op.rot[i][i] for i in range(3)]
        if len(set(diagonal)) == 2:
            return next(i for i in range(3) if diagonal.count(diagonal[i]) == 1)
    raise AssertionError(group.xhm())


def room_for(cell, images, others, least=0.8):
    """Whether the images of a new site stay clear of each other, or coincide, and clear of all other atoms."""
    for i, p in enumerate(images):
        for q in images[:i]:
            d = cell.find_nearest_image(cell.orthogonalize(p), cell.orthogonalize(q), gemmi.Asu.Any).dist()
            if 1e-4 < d < least:
                return False
        for q in others:
            if cell.find_nearest_image(cell.orthogonalize(p), cell.orthogonalize(q), gemmi.Asu.Any).dist() < least:
                return False
    return True


def random_sites(rng, cell, group):
    sites, taken = [], []
    special = [(0, 0, 0), (.5, .5, .5), (.25, .25, .25), (0, 0, .5), (0, .5, .25)]
    bare = gemmi.UnitCell(*cell.parameters)  # lattice translations only
    for _ in range(40):
        place = rng.choice(special) if rng.random() < .3 else tuple(round(rng.random(), 5) for _ in range(3))
        images = [gemmi.Fractional(*op.apply_to_xyz(list(place))) for op in group.operations()]
        if not room_for(bare, images, taken):
            continue
        taken += images
        sites.append((rng.choice(ELEMENTS), place, round(rng.uniform(.2, 1.5), 3), rng.choice([1, 1, 1, round(rng.uniform(.3, 1), 3)])))
        if len(sites) == 3:
            break
    return sites


def write_cif(path, name, cell, group, sites, how):
    lines = ['data_' + name]
    lines += ['_cell_%s %.6f' % (k, v) for k, v in zip(
        ('length_a', 'length_b', 'length_c', 'angle_alpha', 'angle_beta', 'angle_gamma'), cell.parameters)]
    if how == 'operators':
        lines += ['loop_', '_space_group_symop_operation_xyz'] + ["'%s'" % op.triplet() for op in group.operations()]
    elif how == 'hall':
        lines.append("_space_group_name_Hall '%s'" % group.hall if "'" not in group.hall and '"' not in group.hall
                     else '_space_group_name_Hall\n;%s\n;' % group.hall)
    else:
        lines.append("_space_group_name_H-M_alt '%s'" % group.xhm())
    lines += ['loop_'] + ['_atom_site_' + t for t in (
        'label', 'type_symbol', 'fract_x', 'fract_y', 'fract_z', 'B_iso_or_equiv', 'occupancy')]
    for i, (el, p, b, occ) in enumerate(sites):
        lines.append('%s%d %s %.5f %.5f %.5f %.3f %.3f' % (el, i + 1, el, *p, b, occ))
    with open(path, 'w', encoding='utf-8') as f:
        f.write('\n'.join(lines) + '\n')


def gemmi_structure(cell, group, sites):
    s = gemmi.SmallStructure()
    s.cell, s.spacegroup_hm = cell, group.xhm()
    for i, (el, p, b, occ) in enumerate(sites):
        site = gemmi.SmallStructure.Site()
        site.label, site.type_symbol, site.element = '%s%d' % (el, i + 1), el, gemmi.Element(el)
        site.fract, site.u_iso, site.occ = gemmi.Fractional(*(round(v, 5) for v in p)), b / (8 * math.pi ** 2), occ
        s.add_site(site)
    s.setup_cell_images()
    s.change_occupancies_to_crystallographic()
    return s


def density(cell, group, sites):
    """g/cm³; occupancies are those of general positions, as the library has them after its correction."""
    mass = sum(s.occ * s.element.weight for s in gemmi_structure(cell, group, sites).sites) * len(group.operations())
    return 1.66054 * mass / cell.volume


def intensities(structure, table, hkls):
    """Mean |F|² of both Friedel mates. One calculation carries f′, another f′ + f″ as a real number; their difference is the
    part that f″ multiplies with i."""
    def amplitudes(imaginary):
        calc = gemmi.StructureFactorCalculatorX(structure.cell)
        for site in structure.sites:
            fp, fpp = table[site.element.name]
            calc.addends.set(site.element, fp + (fpp if imaginary else 0))
        return lambda h: calc.calculate_sf_from_small_structure(structure, h)
    real, both = amplitudes(False), amplitudes(True)

    def square(h):
        a = real(h)
        return abs(a + 1j * (both(h) - a)) ** 2
    return [(square(h) + square([-i for i in h])) / 2 for h in hkls]


def reflections(cell, anode):
    dmin = WAVELENGTHS[anode] / (2 * math.sin(math.radians(MAX_TWO_THETA[anode] / 2)))
    n = [int(e / dmin) + 1 for e in cell.parameters[:3]]
    for h in range(-n[0], n[0] + 1):
        for k in range(-n[1], n[1] + 1):
            for l in range(-n[2], n[2] + 1):
                if (h, k, l) != (0, 0, 0) and cell.calculate_d([h, k, l]) >= dmin:
                    yield [h, k, l]


def lp(cell, hkl, anode):
    """Lorentz-polarisation factor of a powder line without monochromator."""
    sine = WAVELENGTHS[anode] / (2 * cell.calculate_d(list(hkl)))
    theta = math.asin(sine)
    return (1 + math.cos(2 * theta) ** 2) / (sine ** 2 * math.cos(theta))


def equivalents(group, hkl):
    ops = group.operations()
    same = {tuple(op.apply_to_hkl(hkl)) for op in ops.sym_ops}
    return same | {tuple(-i for i in h) for h in same}


def judge(phase, made, anode, table):
    """Returns the largest deviation, in units of the tolerance."""
    cell, group, sites, how = made
    structure = gemmi_structure(cell, group, sites)
    families = [f for line in phase['lines'] for f in line['families']]
    hkls = [[f['h'], f['k'], f['l']] for f in families]
    theirs = intensities(structure, table, hkls)
    top = max(theirs)
    worst = max(abs(f['f_squared'] - t) / (REL * t + ABS * top) for f, t in zip(families, theirs))
    for f, h in zip(families, hkls):
        if f['multiplicity'] != len(equivalents(group, h)):
            raise AssertionError('multiplicity of %s is %d, not %d' % (h, f['multiplicity'], len(equivalents(group, h))))
    listed = set().union(*(equivalents(group, h) for h in hkls))
    left = [h for h in reflections(cell, anode) if tuple(h) not in listed]
    strongest = max(f['multiplicity'] * t * lp(cell, h, anode) for f, t, h in zip(families, theirs, hkls))
    for h, t in zip(left, intensities(structure, table, left)):
        if len(equivalents(group, h)) * t * lp(cell, h, anode) > LEAST * strongest:
            raise AssertionError('line %s is missing' % h)
    return worst


def make(folder):
    rng, settings, made = random.Random(SEED), list(gemmi.spacegroup_table()), {}
    while len(made) < STRUCTURES:
        group = rng.choice(settings)
        cell = random_cell(rng, group)
        sites = random_sites(rng, cell, group)
        if not sites or density(cell, group, sites) > 20:  # the program refuses what is denser than any matter
            continue
        name, how = 'random-%03d' % len(made), rng.choice(['operators', 'hall', 'hm'])
        made[name] = (cell, group, sites, how)
        write_cif(os.path.join(folder, name + '.cif'), name, cell, group, sites, how)
    return made


def main():
    program = os.path.abspath(sys.argv[1])
    with tempfile.TemporaryDirectory() as folder:
        made = make(folder)
        failed, worst, lines = 0, 0.0, 0
        for anode in WAVELENGTHS:
            out = subprocess.run([program, 'lines', *(os.path.join(folder, n + '.cif') for n in made), '--radiation', anode,
                                  '--max-two-theta', str(MAX_TWO_THETA[anode]), '--format', 'json'],
                                 capture_output=True, text=True, check=False, timeout=300)
            if out.returncode != 0:
                sys.exit('lines failed: ' + out.stderr)
            for phase in json.loads(out.stdout)['phases']:
                cell, group, sites, how = made[phase['id']]
                try:
                    w = judge(phase, made[phase['id']], anode, dispersion(anode))
                    lines += len(phase['lines'])
                    worst = max(worst, w)
                    if w > 1:
                        raise AssertionError('|F|² differs by %.1f times the tolerance' % w)
                except AssertionError as e:
                    failed += 1
                    print('  FAIL %s, %s, %s told by %s, %s: %s' % (phase['id'], anode, group.xhm(), how, sites, e))
        print('  %d structures at %d wavelengths, %d lines; largest deviation of |F|² %.3f of the tolerance' % (
            len(made), len(WAVELENGTHS), lines, worst))
        if failed:
            sys.exit('%d structures differ' % failed)


main()
