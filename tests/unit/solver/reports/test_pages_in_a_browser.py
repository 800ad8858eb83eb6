"""Every kind of page in a headless browser: nothing is too wide, nothing is cut off.

All pages stand in one outer page, each in frames of several widths, so that the browser starts
once. Paper is a frame as wide as A4 between the page's margins, for which the rules of print hold.
"""

import json
import os
import re
import shutil
import subprocess

import pytest

from tests.unit.solver.reports.sample_pages import all_pages

pytestmark = pytest.mark.slow

WIDTHS = (390, 768, 1100)
#: A4 between the margins of the page, at 96 pixels an inch.
PAPER = 695
#: The smallest lettering of a figure on a telephone [px].
SMALLEST = 7.0

MEASURE = """
const found = [], SMALLEST = smallest_letter;
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
function letters(doc, where) {
  for (const figure of doc.querySelectorAll('svg')) {
    const box = figure.viewBox.baseVal;
    const scale = figure.getBoundingClientRect().width / box.width;
    let least = 99, said = '';
    for (const text of figure.querySelectorAll('text')) {
      const size = scale * parseFloat(doc.defaultView.getComputedStyle(text).fontSize);
      if (text.textContent.trim() && size < least) { least = size; said = text.textContent; }
    }
    if (least < SMALLEST)
      found.push(`${where}: "${said.trim().slice(0, 30)}" is ${least.toFixed(1)} px high`);
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
    if (width === 390) letters(doc, where);
  }
  document.body.innerHTML = '<pre id="found"></pre>';
  document.getElementById('found').textContent = JSON.stringify(found);
});
"""


MEASURE = MEASURE.replace("smallest_letter", str(SMALLEST))


def browser():
    """The browser's file, or the reason why there is none."""
    names = ("chromium", "chromium-browser", "google-chrome", "chrome", "headless_shell")
    return next((path for name in names if (path := shutil.which(name))), None)


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """One page of each kind, by name."""
    return all_pages(tmp_path_factory.mktemp("parts"))


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


#: What a program says and a page does not: names of values, keys, and nothing's names.
PROGRAMMERS_TEXT = re.compile(r"\bNone\b|\bnan\b|\{'|\w_(mm|in|hz|ghz|deg|db)\b|\bTrue\b|\bFalse\b")

NOT_SAID = r"<(script|style|pre|code).*?</\1>|<svg.*?<g|<[^>]*>"


def test_no_page_speaks_as_a_program_does(pages):
    for name, page in pages.items():
        text = re.sub(
            r"<(script|style|pre|code).*?</\1>|<svg.*?<g|<[^>]*>", " ", page, flags=re.DOTALL
        )
        assert not (found := PROGRAMMERS_TEXT.findall(text)), (name, found)


def test_paper_is_as_wide_as_the_frame(pages):
    """A4 is 210 mm wide (ISO 216); the margins are those that the page asks for."""
    margin = re.search(r"@page \{ margin: \d+mm (\d+)mm; \}", pages["gradual"])
    assert pytest.approx((210 - 2 * int(margin[1])) / 25.4 * 96, abs=1) == PAPER
