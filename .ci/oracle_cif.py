#!/usr/bin/python3
"""Reads an analysis.cif with an independent CIF parser and compares it with analysis.json: oracle_cif.py FOLDER
With --names PROGRAM SCAN the specimen is named in six scripts, and each name must be read back.

Item names are those of the IUCr powder dictionary (dots) with their aliases of version 1.0 (underscores); the list below is
the vocabulary that a result may use.
"""
import json
import math
import os
import sys

import gemmi

# IUCr core and powder dictionaries, names with dots; their older aliases follow by rule
DOTTED = '''
_audit.creation_method _audit.creation_date
_pd_spec.description _pd_spec.orientation _pd_spec.mounting _pd_spec.mount_mode _pd_spec.preparation
_diffrn_radiation.type _diffrn_radiation_wavelength.value
_pd_instr.dist_src_spec _pd_instr.slit_eq_src_spec _pd_instr.cons_illum_flag _pd_instr.2theta_monochr_post
_pd_meas.2theta_range_min _pd_meas.2theta_range_max _pd_meas.2theta_range_inc _pd_meas.number_of_points _pd_meas.scan_method
_pd_meas.2theta_scan _pd_meas.counts_total _pd_meas.intensity_total
_pd_proc_ls.prof_wR_factor _pd_proc_ls.prof_wR_expected _pd_proc_ls.weight _pd_proc.intensity_bkg_calc _pd_calc.intensity_total
_refine_ls.goodness_of_fit_all
_pd_phase.id _pd_phase.name _pd_phase_mass.percent _pd_phase_mass.absolute _pd_phase_mass.original
_pd_qpa_overall.method _pd_qpa_internal_std.mass_percent _pd_qpa_internal_std.crystallinity_percent
_pd_qpa_external_std.k_factor _pd_qpa_calib_factor.RIR
_pd_peak.id _pd_peak.2theta_centroid _pd_peak.d_spacing _pd_peak.pk_height _pd_peak.intensity _pd_peak.width_2theta
_chemical_formula.sum _exptl_crystal.density_diffrn
_cell.length_a _cell.length_b _cell.length_c _cell.angle_alpha _cell.angle_beta _cell.angle_gamma
_pd_pref_orient_March_Dollase.index_h _pd_pref_orient_March_Dollase.index_k _pd_pref_orient_March_Dollase.index_l
_pd_pref_orient_March_Dollase.r
'''.split()
IRREGULAR = {'_diffrn_radiation_wavelength', '_pd_phase_mass_%', '_pd_instr_dist_src/spec', '_pd_instr_slit_eq_src/spec'}
KNOWN = {t.lower() for t in DOTTED} | {t.replace('.', '_', 1).lower() for t in DOTTED} | {t.lower() for t in IRREGULAR}


def tags(block):
    for item in block:
        if item.pair is not None:
            yield item.pair[0]
        elif item.loop is not None:
            yield from item.loop.tags


def close(text, value, name, rel=2e-3):
    """A value in the CIF has the digits of its uncertainty only."""
    number = gemmi.cif.as_number(text)
    u = 0.0
    if '(' in text:
        digits = text[text.index('(') + 1:text.index(')')]
        decimals = len(text[:text.index('(')].partition('.')[2])
        u = int(digits) * 10.0 ** -decimals
    assert math.isclose(number, value, rel_tol=rel, abs_tol=0.6 * u + 1e-9), '%s: %s in the CIF, %r in the JSON' % (name, text, value)


def main():
    folder = sys.argv[1]
    doc = gemmi.cif.read_file(os.path.join(folder, 'analysis.cif'))
    with open(os.path.join(folder, 'analysis.json'), encoding='utf-8') as f:
        want = json.load(f)
    for block in doc:
        unknown = [t for t in tags(block) if t.lower() not in KNOWN]
        assert not unknown, 'not in the dictionaries: %s' % ', '.join(unknown)
    main_block = doc[0]
    found = main_block.find(['_pd_phase.id', '_pd_phase_mass.percent'])
    assert len(found) == len(want['phases']) > 0, '%d phases in the CIF, %d in the JSON' % (len(found), len(want['phases']))
    for row, p in zip(found, want['phases']):
        assert row.str(0) == p['id'], row.str(0)
        if p['origin'] == 'specimen':
            close(row[1], p['weight_percent'], p['id'])
    points = main_block.find_values('_pd_meas.2theta_scan')
    assert len(points) == want['scan']['points'], len(points)
    close(main_block.find_value('_pd_proc_ls.prof_wR_factor'), want['fit']['r_wp'], 'r_wp')
    close(main_block.find_value('_diffrn_radiation_wavelength.value'), want['scan']['wavelength'], 'wavelength')
    peaks = main_block.find(['_pd_peak.2theta_centroid', '_pd_peak.d_spacing'])
    assert len(peaks) == len(want['peaks'])
    for row, p in zip(peaks, want['peaks']):
        close(row[0], p['two_theta'], 'peak', 1e-5)
        close(row[1], p['d'], 'd', 1e-4)
    for block, p in zip(list(doc)[1:], want['phases']):
        for axis in 'abc':
            close(block.find_value('_cell.length_' + axis), p['cell'][axis], '%s %s' % (p['id'], axis), 1e-5)
    print('  %d blocks, %d points, %d peaks, %d phases agree with analysis.json; every item is of the dictionaries' % (
        len(doc), len(points), len(peaks), len(found)))


def names(program, scan):
    """Whatever script a specimen's name is written in, with blanks and as one word, another parser reads it."""
    import subprocess
    import tempfile
    for name in ('Ölprobe', '日本語', 'образец', 'δείγμα 7', 'عينة', 'दमूना', 'data_x', "it's", '_tag', '#7', ';', '\'a" b'):
        with tempfile.TemporaryDirectory() as work:
            out = os.path.join(work, 'out')
            subprocess.run([program, 'quantify', scan, '--phase', 'copper,cu6sn5-eta', '--sample', name, '--quiet', '--out', out], check=False, stderr=subprocess.DEVNULL)
            block = gemmi.cif.read_file(os.path.join(out, 'analysis.cif'))[0]
            read = block.find_value('_pd_spec.description')
            assert read is not None and gemmi.cif.as_string(read) == name, '%r is read as %r' % (name, read)
    print('  names in six scripts and six awkward ones are read back')


if len(sys.argv) == 4 and sys.argv[1] == '--names':
    names(sys.argv[2], sys.argv[3])
else:
    main()
