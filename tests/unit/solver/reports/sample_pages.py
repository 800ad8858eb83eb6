"""One page of every kind that a command writes, as cheaply as it can be had."""

import dataclasses
import itertools
import math
import tomllib
from pathlib import Path

import gmsh
import numpy as np

from geometries.cells.gmsh_session import gmsh_session
from geometries.shapes.bends import Bend
from geometries.shapes.guides import CircularGuide, standard_guide
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.straights import Straight
from geometries.user_files.user_meshes import MeshPart
from solver.audits.audit_files import audit_html
from solver.audits.audited import LEVELS, AuditedPart, Reading
from solver.closed_forms.estimates import estimates_for
from solver.commands.modes_answer import cutoffs_answer
from solver.judgement.sensitivities import Sensitivity
from solver.judgement.tolerance_box import ToleranceBox
from solver.loads.heat_profile import HeatProfile
from solver.measured.comparison import compare
from solver.measured.touchstone_file import Measurement
from solver.periodic.periodic_guide import PeriodicGuide
from solver.reports.exploration_files import exploration_files
from solver.reports.gradual_report import gradual_html
from solver.reports.reference_report import reference_answer
from solver.reports.report import report_html
from solver.reports.run_record import RunRecord
from solver.reports.seek_report import seek_answer
from solver.reports.shortest_report import shortest_answer
from solver.reports.table_report import table_files
from solver.rules.rules_of_thumb import rules_for
from solver.run_output.run_files import run_files
from solver.runs.run_parts import run
from solver.searches.exploration import Worst
from solver.searches.gradual import GradualResult
from solver.searches.gradualness import GradualnessChart
from solver.searches.length_charts import LengthChart
from solver.searches.seek_result import ONE_DB_MORE, FlatRange, SeekResult
from solver.searches.shortest_result import Proof, Shape, ShortestResult
from solver.searches.varied_keys import Span
from solver.sheets.chart_files import chart_files
from solver.sheets.length_chart_files import length_chart_files
from solver.sheets.sheet import computed_sheet
from solver.sheets.sheet_keys import sheet_of
from solver.sheets.sheet_page import sheet_html
from solver.studies.band import Band
from solver.studies.component_keys import KNOWN_KINDS
from solver.studies.inches import told_in_inches
from solver.studies.limits import Limit
from solver.studies.run_study import RunPart
from solver.studies.starters import starter_study
from solver.studies.study import study_of
from solver.studies.tolerances import tolerances_of
from solver.supplements.measurement_page import measurement_html
from solver.supplements.tolerance_page import tolerance_html
from solver.waves.radiation import Radiation
from solver.waves.scattering import PortMode, ScatteringMatrix
from tests.unit.solver.conftest import made_up_scattering, make_assessment
from tests.unit.solver.searches.test_explore import DEPTH, GAP, explored

WR90 = standard_guide("WR-90")
BAND = Band(8.2e9, 12.4e9, 101)
LONG = "a title of one word: " + "antidisestablishmentarianism" * 3
SHEET = """
title = "A bend and a guide"
note = "Values to cite; each with what it is known to."
[[case]]
name = "WR-90, E-plane bend"
values = ["vswr", "s11_abs_at at 10.0 GHz", "s21_phase_deg at 10.0 GHz"]
second_path = false
[case.study]
guide = "WR-90"
component = { kind = "bend", plane = "E", angle_deg = 60.0, mean_radius_mm = 15.0 }
band = { from_ghz = 9.0, to_ghz = 11.0, points = 3 }
[[case]]
name = "WR-90"
guide = "WR-90"
values = ["cutoff_ghz", "guide_wavelength_mm at 10.0 GHz"]
printed = [{ value = "cutoff_ghz", text = "6.557", source = "made up for this page" }]
"""


def record():
    """How a page came about, longer than any line of a page."""
    study = 'title = "a study"\nnote = "' + "x" * 150 + '"\n'
    return RunRecord("2026-01-01 12:00 +0000", "guideproof assess " + "long/" * 60, "s", study)


def all_pages(folder):
    """Every page by its name; a folder takes what has to be a file."""
    pages = {f"assess {kind}": part_page(kind, folder) for kind in KNOWN_KINDS}
    with told_in_inches(True):
        pages["assess bend in inches"] = part_page("bend", folder)
    return pages | search_pages() | other_pages(folder)


def part_page(kind, folder):
    """The report of a part of some kind, with made-up curves."""
    study = study_of(tomllib.loads(starter_study(kind)), Path("starter.toml"))
    component = mesh_part(folder) if kind == "mesh" else study.component
    band = dataclasses.replace(study.band, points=BAND.points)
    one_port = len(component.guides) == 1
    leaked = 1e-4 if kind in ("rotating-joint", "choke-flange") else 0.0
    scattering = made_up_scattering(band, leaked=leaked)
    if one_port:
        scattering = ScatteringMatrix(
            scattering.frequency, (PortMode(1, "TE10", 6.557e9),), scattering.s[:, :1, :1],
            scattering.error, scattering.leaked_power, np.zeros(BAND.points),
        )  # fmt: skip
    changes = {
        "component": component,
        "band": band,
        "scattering": scattering,
        "estimates": () if kind == "mesh" else estimates_for(component, band.frequencies),
        "rules": rules_for(component, band),
        "title": LONG,
    }
    changes |= {"load": {"heat": heat()}, "horn": {"radiation": radiation()}}.get(kind, {})
    changes |= {"periodic": stopbands()} if kind == "flexible" else {}
    return report_html(make_assessment(**changes), record())


def mesh_part(folder):
    """A straight piece as a user's mesh."""
    path = Path(folder) / "part.msh"
    a, b, long = WR90.broad_width * 1e3, WR90.narrow_height * 1e3, 30.0
    with gmsh_session():
        gmsh.model.occ.addBox(-a / 2, -b / 2, 0.0, a, b, long)
        gmsh.model.occ.synchronize()
        gmsh.option.setNumber("Mesh.MeshSizeMax", 12.0)
        for name, z in (("port1", 0.0), ("port2", long)):
            faces = gmsh.model.getEntitiesInBoundingBox(-a, -b, z - 0.1, a, b, z + 0.1, 2)
            gmsh.model.addPhysicalGroup(2, [tag for _, tag in faces], name=name)
        gmsh.model.addPhysicalGroup(3, [1], name="air")
        gmsh.model.mesh.generate(3)
        gmsh.write(str(path))
    return MeshPart(WR90, path, "mm", ("port1", "port2"))


def heat():
    place = np.linspace(0.0, 0.08, 60)
    fraction = np.exp(-place / 0.02) / 0.02
    return HeatProfile(9e9, place, fraction, 0.98, 1e-3, 1e6, 0.01, sharp=True)


def radiation():
    n, angle = BAND.points, np.linspace(0.0, math.pi / 2, 46)
    flat, small = np.ones(n), np.full(n, 1e-3)
    lobe = np.stack([30.0 * np.cos(angle) ** 8 + 1e-3] * 2)
    return Radiation(
        BAND.frequencies, flat, small, 30 * flat, small, 30 * flat, small, 0 * flat, angle,
        np.array([8.2e9, 12.4e9]), lobe, 0.8 * lobe, 0.01 * lobe,
    )  # fmt: skip


def stopbands():
    f = BAND.frequencies
    return PeriodicGuide(6e-3, f, f / 1e10, 0 * f + 1e-4, 0 * f, ((9.8e9, 10.2e9),), 2e5, None)


def search_pages():
    """Pages of gradual, explore and seek."""
    bend = Bend(WR90, "E", math.pi / 2, 0.045)
    sizes = np.linspace(0.01, 0.08, 8)
    gradual = GradualResult(
        kind="bend", guide=WR90, plane="E", angle=1.57, band=BAND, limit=Limit(vswr=1.05),
        smallest=0.041, first_met=0.021, uncertainty=5e-5, first_met_uncertainty=2e-5,
        sizes=sizes, worst_s11=0.001 / sizes, worst_s11_error=np.full(8, 1e-6),
        estimated_s11=0.0011 / sizes, rules=rules_for(bend, BAND), reasons=("made up",),
    )  # fmt: skip
    shapes = (
        Shape("constant", 0.0, 0.041, 0.0644, 5e-5),
        Shape("smooth", 0.3, 0.035, 0.055, 5e-5),
        Shape("smooth", 0.5, note="fails at 55 mm, the best so far"),
    )
    plain, best = (
        Proof(dataclasses.replace(bend, mean_radius=r), 0.0243, 1e-6, 1e-6, True)
        for r in (0.0411, 0.0351)
    )
    shortest = ShortestResult(
        bend, BAND, Limit(vswr=1.05), shapes[0], shapes[1], plain, best, shapes, 60
    )
    joint = RotatingJoint(CircularGuide(27e-3), 0.8e-3, 34e-3, 19.2e-3, 22.4e-3, 8.6e-3)
    key = "component.groove_depth_mm"
    tried = tuple(({key: d}, 0.01 + abs(d - 8.6) / 100) for d in np.linspace(7, 10, 70))
    sought = SeekResult(
        "tracking feed", "leakage", (Span(key, 7.0, 10.0),), (9.3e9, 10.7e9, 201), {key: 8.6},
        Worst(0.01, 0.009, 0.011, 9.5e9), 1e-5, 1e-4, True,
        (FlatRange(key, 8.5, 8.7, ONE_DB_MORE, ONE_DB_MORE, 0.01),), 70, 0, tried,
    )  # fmt: skip
    maps = exploration_files(explored(GAP, DEPTH), record())
    return {
        "gradual": gradual_html(gradual, "0.1.0", record()),
        "gradual --shortest": table_page(shortest_answer(shortest), "gradual"),
        "explore": exploration_files(explored(DEPTH), record())["report.html"].decode(),
        "explore maps": maps["report.html"].decode(),
        "explore index": maps["index.html"].decode(),
        "seek": table_page(seek_answer(sought, joint), "seek"),
    }


def table_page(answer, command):
    return table_files(answer, command, record())["report.html"].decode()


def other_pages(folder):
    """Pages of runs, sheets, charts, audits, measurements, tolerances, modes and reference."""
    path = Path(folder) / "sheet.toml"
    sheet = computed_sheet(sheet_of(tomllib.loads(SHEET), path), second_paths=False)
    return {
        "run": run_page(),
        "modes": table_page(cutoffs_answer(WR90, None), "modes"),
        "reference": table_page(reference_answer(make_assessment(vswr=1.01)), "reference"),
        "sheet": sheet_html(sheet, record()),
        "audit": audit_html(audited(), record()),
        "chart": chart_files(bend_chart(), record())["chart.html"].decode(),
        "chart of tapers": length_chart_files(taper_chart(), record())["chart.html"].decode(),
        "measurement": measurement_page(),
        "tolerances": tolerance_page(),
    }


def run_page():
    """A run of many short parts, solved as roughly as can be."""
    bend = Bend(WR90, "E", math.pi / 2, 0.045)
    names = itertools.cycle(("lower bend", "riser", "upper bend with a name that is rather long"))
    parts = [
        RunPart(component, f"{number} {name}", turn)
        for number, (name, component, turn) in enumerate(
            zip(names, [Straight(WR90, 0.8), bend] * 6, itertools.cycle((0.0, math.pi)))
        )
    ]
    result = run(
        parts, Band(9.2e9, 9.3e9, 2), limit=Limit(vswr=1.3), s_error=1e-2, title=LONG,
        end_vswr=1.1,
    )  # fmt: skip
    return run_files(result, record())["report.html"].decode()


def audited():
    words = "mean radius at least two guide wavelengths at the low edge of the band"
    worst = Worst(0.01, 0.009, 0.011, 9e9)
    readings = tuple(
        Reading("two wavelengths", f"{words}, {number}", 0.06, worst, worst, worst)
        for number in range(12)
    )
    found = dict.fromkeys(LEVELS, (0.03, 0.001))
    return [
        AuditedPart("bend", f"{plane}-plane", f"{name}, 90 degrees", BAND, readings, found)
        for name in ("WR-90", "WR-112", "WR-284")
        for plane in ("E", "H")
    ]


def bend_chart():
    radius, angle = np.geomspace(0.5, 3.0, 12), np.radians(np.linspace(10.0, 180.0, 15))
    worst = 0.02 * np.sin(angle / 2) / radius[:, None] ** 2
    rules = {f"rule {n} of the trade, in one of its readings": 0.2 * n + 0 * angle + 0.5
             for n in range(8)}  # fmt: skip
    return GradualnessChart(
        "E", 2.25, (1.25, 1.9), radius, angle, worst, 0 * worst + 1e-6, 0.01, 1.4, rules
    )


def taper_chart():
    length, change = np.geomspace(0.3, 3.0, 9), np.linspace(0.2, 0.9, 9)
    worst = 0.3 * (1 - change) / length[:, None]
    rules = {"a wavelength": 0 * change + 1.0}
    return LengthChart(
        "taper", 2.25, (1.25, 1.9), length, change, worst, 0 * worst + 1e-6, 0.01, 1.4, rules
    )


def measurement_page():
    computed = made_up_scattering(BAND)
    noise = np.random.default_rng(11).normal(size=computed.s.shape) * 1e-3
    file = Path("a_file_with_a_long_name.s2p")
    found = compare(
        computed, Measurement(file, computed.frequency, computed.s + noise), axis_length=0.08
    )
    return measurement_html(found, "mast head riser", "0.1.0", record())


def tolerance_page():
    bend = Bend(WR90, "E", math.pi / 2, 0.045)
    n = BAND.points
    amounts = tolerances_of(bend, {"mean_radius_mm": 0.3, "angle_deg": 0.5})
    slopes = tuple(
        Sensitivity(each, np.full(n, 0.5 + 0.1j), np.full(n, 1e-3), np.full(n, 1e-4))
        for each in amounts
    )
    box = ToleranceBox(
        BAND.frequencies, made_up_scattering(BAND).s11, slopes, 0.024, 0.022, 1e-3, 9e9,
        {"mean_radius_mm": 0.3, "angle_deg": -0.5}, 0.0221, (0.97, 0.95, 0.99),
    )  # fmt: skip
    return tolerance_html(box, LONG, "bend in WR-90", "0.1.0", record())
