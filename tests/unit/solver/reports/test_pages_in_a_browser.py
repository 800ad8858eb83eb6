"""Every kind of page in a headless browser: nothing is too wide, nothing is cut off.

All pages stand in one outer page, each in frames of several widths, so that the browser starts
once. Paper is a frame as wide as A4 between the page's margins, for which the rules of print hold.
"""

import dataclasses
import json
import os
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guides import CircularGuide, standard_guide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.commands.modes_answer import cutoffs_answer
from solver.measured.comparison import compare
from solver.measured.touchstone_file import Measurement
from solver.reports.exploration_files import exploration_files
from solver.reports.gradual_report import gradual_html
from solver.reports.reference_report import reference_answer
from solver.reports.report import report_html
from solver.reports.run_record import RunRecord
from solver.reports.seek_report import seek_answer
from solver.reports.table_report import table_files
from solver.rules.rules_of_thumb import rules_for
from solver.searches.exploration import Worst
from solver.searches.gradual import GradualResult
from solver.searches.seek_result import ONE_DB_MORE, FlatRange, SeekResult
from solver.searches.varied_keys import Span
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.supplements.measurement_page import measurement_html
from tests.unit.solver.conftest import made_up_scattering, make_assessment
from tests.unit.solver.searches.test_explore import DEPTH, GAP, explored

pytestmark = pytest.mark.slow

WIDTHS = (390, 768, 1100)
#: A4 between the margins of the page, at 96 pixels an inch.
PAPER = 695
WR90 = standard_guide("WR-90")
GROOVE = {"groove_inner_radius": 14e-3, "groove_outer_radius": 16e-3, "groove_depth": 8.2e-3}
LONG = "a title of one word: " + "antidisestablishmentarianism" * 3

MEASURE = """
const found = [];
function cells(doc, width, where) {
  for (const cell of doc.querySelectorAll('td, th')) {
    const style = doc.defaultView.getComputedStyle(cell);
    if (!cell.textContent.trim() || style.display === 'none') continue;
    if (cell.closest('thead') && doc.defaultView.getComputedStyle(cell.closest('thead')).display
        === 'none') continue;
    const box = cell.getBoundingClientRect();
    const text = cell.textContent.trim().slice(0, 30);
    if (!cell.checkVisibility({contentVisibilityAuto: true}) || box.height < 1)
      found.push(`${where}: hidden cell "${text}"`);
    else if (box.right > width + 0.5 || cell.scrollWidth > cell.clientWidth + 1)
      found.push(`${where}: cell cut off "${text}" ${box.right} ${cell.scrollWidth}`);
  }
}
function boxes(doc, width, where) {
  if (doc.documentElement.scrollWidth > width)
    found.push(`${where}: page is ${doc.documentElement.scrollWidth} wide`);
  for (const element of doc.body.querySelectorAll('*')) {
    if (element.closest('svg') && element.tagName !== 'svg') continue;
    const box = element.getBoundingClientRect();
    if (box.width && box.right > width + 0.5)
      found.push(`${where}: ${element.tagName} reaches ${box.right}`);
  }
}
function forPaper(doc) {
  for (const sheet of doc.styleSheets) for (const rule of sheet.cssRules) if (rule.media) {
    const wanted = rule.media.mediaText;
    if (wanted === 'print') rule.media.mediaText = 'all';
    else if (wanted.startsWith('screen')) rule.media.mediaText = 'speech';
  }
}
addEventListener('load', () => {
  for (const frame of document.querySelectorAll('iframe')) {
    const doc = frame.contentDocument, width = frame.clientWidth, where = frame.title;
    if (!doc.querySelector('h1')) { found.push(`${where}: empty`); continue; }
    if (frame.className === 'paper') forPaper(doc);
    boxes(doc, width, where);
    if (frame.className !== 'paper')
      for (const fold of doc.querySelectorAll('details')) fold.open = true;
    boxes(doc, width, where);
    cells(doc, width, where);
  }
  document.body.innerHTML = '<pre id="found"></pre>';
  document.getElementById('found').textContent = JSON.stringify(found);
});
"""


def browser():
    """The browser's file, or the reason why there is none."""
    names = ("chromium", "chromium-browser", "google-chrome", "chrome", "headless_shell")
    return next((path for name in names if (path := shutil.which(name))), None)


def choke_page(record):
    choke = ChokeFlange(WR90, 0.2e-3, 25e-3, **GROOVE)
    scattering = made_up_scattering(Band(8.2e9, 12.4e9, 101), leaked=1e-4)
    rules = rules_for(choke, Band(8.2e9, 12.4e9, 101))
    changed = {"component": choke, "scattering": scattering, "rules": rules, "title": LONG}
    return report_html(make_assessment(**changed), record)


def gradual_page(record):
    sizes = np.linspace(0.01, 0.08, 8)
    assessment = make_assessment()
    result = GradualResult(
        kind="bend", guide=WR90, plane="E", angle=1.57, band=assessment.band,
        limit=Limit(vswr=1.05), smallest=0.041, first_met=0.021, uncertainty=5e-5,
        first_met_uncertainty=2e-5, sizes=sizes, worst_s11=0.001 / sizes,
        worst_s11_error=np.full(8, 1e-6), estimated_s11=0.0011 / sizes,
        rules=rules_for(assessment.component, assessment.band), reasons=("made up",),
    )  # fmt: skip
    return gradual_html(result, "0.1.0", record)


def measurement_page():
    computed = made_up_scattering(Band(8.2e9, 12.4e9, 101))
    noise = np.random.default_rng(11).normal(size=computed.s.shape) * 1e-3
    found = compare(
        computed, Measurement(Path("a_file_with_a_long_name.s2p"), computed.frequency,
                              computed.s + noise), axis_length=0.08,
    )  # fmt: skip
    return measurement_html(found, "mast head riser", "0.1.0")


def seek_page(record):
    joint = RotatingJoint(CircularGuide(27e-3), 0.8e-3, 34e-3, 19.2e-3, 22.4e-3, 8.6e-3)
    tried = tuple(
        ({"component.groove_depth_mm": depth}, 0.01 + abs(depth - 8.6) / 100)
        for depth in np.linspace(7, 10, 70)
    )
    key = "component.groove_depth_mm"
    result = SeekResult(
        "tracking feed", "leakage", (Span(key, 7.0, 10.0),), (9.3e9, 10.7e9, 201), {key: 8.6},
        Worst(0.01, 0.009, 0.011, 9.5e9), 1e-5, 1e-4, True,
        (FlatRange(key, 8.5, 8.7, ONE_DB_MORE, ONE_DB_MORE, 0.01),), 70, 0, tried,
    )  # fmt: skip
    return table_files(seek_answer(result, joint), "seek", record)["report.html"].decode()


@pytest.fixture(scope="module")
def pages():
    """One page of each kind, by name."""
    study = 'title = "a study"\nnote = "' + "x" * 150 + '"\n'
    record = RunRecord("2026-01-01 12:00 +0000", "guideproof assess " + "long/" * 60, "s", study)
    assessment = make_assessment(vswr=1.01)
    bend = dataclasses.replace(assessment, rules=rules_for(assessment.component, assessment.band))
    return {
        "assess bend": report_html(bend, record),
        "assess choke": choke_page(record),
        "gradual": gradual_page(record),
        "explore": exploration_files(explored(DEPTH), record)["report.html"].decode(),
        "explore maps": exploration_files(explored(GAP, DEPTH), record)["report.html"].decode(),
        "explorations": exploration_files(explored(GAP, DEPTH), record)["index.html"].decode(),
        "measurement": measurement_page(),
        "seek": seek_page(record),
        "modes": table_files(cutoffs_answer(WR90, None), "modes", record)["report.html"].decode(),
        "reference": table_files(reference_answer(assessment), "reference", record)[
            "report.html"
        ].decode(),
    }


@pytest.fixture(scope="module")
def seen(pages, tmp_path_factory):
    """What the browser said, and what was measured."""
    program = browser()
    if program is None:
        pytest.skip("no Chromium is installed here: pages are not opened")
    folder = tmp_path_factory.mktemp("pages")
    frames = []
    for number, (name, page) in enumerate(pages.items()):
        (folder / f"{number}.html").write_text(page, encoding="utf-8")
        frames += [
            f'<iframe src="{number}.html" title="{name} at {width}" width="{width}" height="900" '
            f'style="border:0" class="{"paper" if width == PAPER else "screen"}"></iframe>'
            for width in (*WIDTHS, PAPER)
        ]
    outer = f"<!doctype html><body>{''.join(frames)}<script>{MEASURE}</script></body>"
    (folder / "outer.html").write_text(outer, encoding="utf-8")
    run = subprocess.run(
        [
            program, "--headless=new", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr",
            "--allow-file-access-from-files", f"--user-data-dir={folder / 'profile'}",
            "--timeout=60000", "--dump-dom", (folder / "outer.html").as_uri(),
        ],
        capture_output=True, text=True, timeout=120, check=False,
        env=os.environ | {"HOME": str(folder)},
    )  # fmt: skip
    told = re.search(r'<pre id="found">(.*?)</pre>', run.stdout, re.DOTALL)
    if told is None and run.returncode:
        pytest.skip(f"the browser does not start here: {run.stderr[-300:]}")
    assert told, run.stdout[-500:]
    return run.stderr, json.loads(told[1].replace("&lt;", "<").replace("&amp;", "&"))


def test_nothing_is_wider_than_the_page_or_cut_off(seen):
    assert seen[1] == []


def test_the_console_stays_empty(seen):
    assert [line for line in seen[0].splitlines() if "CONSOLE" in line] == []


def test_a_page_that_is_too_wide_would_be_seen(tmp_path):
    """The measure itself: a fixed width, and a cell that hides part of its text."""
    program = browser()
    if program is None:
        pytest.skip("no Chromium is installed here")
    page = (
        "<h1>x</h1><div style='width:500px'>wide</div><table style='table-layout:fixed;width:99px'>"
        "<tr><td style='overflow:hidden;white-space:nowrap'>" + "long " * 40 + "</td></tr></table>"
    )
    (tmp_path / "0.html").write_text(page)
    frame = '<iframe src="0.html" title="t" width="390" height="99" class="screen"></iframe>'
    (tmp_path / "outer.html").write_text(f"<body>{frame}<script>{MEASURE}</script></body>")
    run = subprocess.run(
        [
            program, "--headless=new", "--no-sandbox", "--disable-gpu",
            "--allow-file-access-from-files", f"--user-data-dir={tmp_path / 'profile'}",
            "--dump-dom", (tmp_path / "outer.html").as_uri(),
        ],
        capture_output=True, text=True, timeout=60, check=False,
        env=os.environ | {"HOME": str(tmp_path)},
    )  # fmt: skip
    if run.returncode:
        pytest.skip("the browser does not start here")
    assert "DIV reaches" in run.stdout
    assert "cell cut off" in run.stdout


def test_paper_is_as_wide_as_the_frame(pages):
    """A4 is 210 mm wide (ISO 216); the margins are those that the page asks for."""
    margin = re.search(r"@page \{ margin: \d+mm (\d+)mm; \}", pages["gradual"])
    assert pytest.approx((210 - 2 * int(margin[1])) / 25.4 * 96, abs=1) == PAPER
