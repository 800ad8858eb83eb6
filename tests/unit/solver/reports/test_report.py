import re
from html.parser import HTMLParser

import numpy as np
import pytest

from geometries.shapes.corners import Corner
from geometries.shapes.guides import standard_guide
from geometries.shapes.straights import Straight
from solver.reports.report import notebook_html, report_html, result_files

# Attributes and rules by which a page fetches something.
FETCHES = re.compile(
    r"""(?:src|href|action|data|poster)\s*=\s*["']?\s*([^"'\s>]+)|url\(([^)]+)\)"""
)


class Tags(HTMLParser):
    """Counts the elements, and fails on an end tag that does not fit."""

    def __init__(self):
        super().__init__()
        self.open, self.seen = [], []

    def handle_starttag(self, tag, attrs):
        self.seen.append(tag)
        if tag not in {"meta", "img", "br", "link"}:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.seen.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def elements(html):
    tags = Tags()
    tags.feed(html)
    assert tags.open == []
    return tags.seen


def test_the_page_fetches_nothing(assessment):
    html = report_html(assessment)
    targets = [a or b for a, b in FETCHES.findall(html)]
    assert all(target.startswith(("#", "data:image/png;base64,")) for target in targets)
    assert "http://" not in html
    assert "https://" not in html
    assert {"script", "link", "iframe"}.isdisjoint(elements(html))


@pytest.mark.parametrize(
    "attack", ["<script>alert(1)</script>", '"><img src=x onerror=a>', "{{7*7}}"]
)
def test_text_of_the_user_is_shown_as_text(assessment_maker, attack):
    assessment = assessment_maker(title=attack, field=None)
    for html in (report_html(assessment), notebook_html(assessment)):
        assert "{{" in attack or attack not in html
        assert {"script", "img"}.isdisjoint(elements(html))
        assert "49" not in re.findall(r"<h1>(.*)</h1>", html)


def test_no_two_elements_share_a_name(assessment):
    html = report_html(assessment)
    names = re.findall(r'\sid="([^"]+)"', html)
    assert len(names) == len(set(names)) > 5
    used = re.findall(r'(?:xlink:href="#|url\(#)([^")]+)', html)
    assert set(used) == set(names)


def test_every_section_is_there(assessment):
    html = report_html(assessment)
    for words in (
        "Meets the limit",
        "mast head riser",
        "45 mm",
        "S. O. Rice, BSTJ 27, 305 (1948)",
        "shop practice [common practice]",
        "34.4 mm more",
        "812",
        "exp(+jωt)",
        "Never look into an open guide",
        "X-rays",
        "beryllium oxide",
        "sulphur hexafluoride",
        "never a clearance",
        "gradual --guide WR-90 --plane E --angle-deg 37 --from-ghz 8.2 --to-ghz 12.4 --vswr 1.05",
    ):
        assert words in html, words
    assert elements(html).count("svg") == 4


@pytest.mark.parametrize(("vswr", "headline"), [(1.01, "Exceeds the limit"), (None, "No limit")])
def test_the_headline_follows_the_verdict(assessment_maker, vswr, headline):
    assert f"<strong>{headline}" in report_html(assessment_maker(vswr=vswr))


def test_the_figures_show_the_same_numbers(assessment):
    figure = assessment.plot_vswr()
    line = next(ln for ln in figure.axes[0].lines if ln.get_label() == "computed VSWR")
    np.testing.assert_allclose(line.get_ydata(), assessment.scattering.vswr)
    reflection = assessment.plot_reflection()
    labels = [line.get_label() for line in reflection.axes[0].lines]
    assert "junction reflections of a gentle bend" in labels
    # VSWR 1.05 is a return loss of 32.26 dB.
    limit = next(ln for ln in reflection.axes[0].lines if ln.get_label() == "limit")
    assert limit.get_ydata()[0] == pytest.approx(-32.256, abs=1e-3)
    assert len(assessment.plot_field().axes) == 4


def test_a_field_is_not_needed(assessment_maker):
    assessment = assessment_maker(field=None)
    assert "field.vtu" not in result_files(assessment)
    assert "<img" not in report_html(assessment)
    with pytest.raises(ValueError, match="no field"):
        assessment.plot_field()


@pytest.mark.parametrize(
    "component",
    [
        Corner(standard_guide("WR-90"), "H", np.pi / 2, 0.0),
        Corner(standard_guide("WR-90"), "E", np.pi / 2, 0.015),
        Straight(standard_guide("WR-90"), 0.1),
    ],
)
def test_other_parts_are_drawn(assessment_maker, component):
    html = report_html(assessment_maker(component=component, estimates=(), rules=()))
    assert elements(html).count("svg") == 4
    assert "No closed form here covers this part" in html


def test_all_files_of_a_result(assessment, tmp_path):
    paths = assessment.save(tmp_path / "out")
    assert sorted(p.name for p in paths) == [
        "field.vtu",
        "part.svg",
        "reflection.svg",
        "report.html",
        "result.json",
        "scattering.s2p",
        "table.csv",
        "transmission.svg",
        "vswr.svg",
    ]
    assert all(p.stat().st_size > 500 for p in paths)


def test_a_notebook_shows_the_verdict(assessment):
    html = assessment._repr_html_()
    assert "Meets the limit" in html
    assert elements(html).count("svg") == 1
