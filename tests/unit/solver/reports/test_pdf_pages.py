"""A report as PDF without a browser, and what is said where that cannot be."""

import contextlib
import re
import sys
import zlib

import pytest

from solver.commands.command_line import main
from solver.errors import OutputError
from solver.reports.pdf_pages import check_pdf, pdf_bytes
from solver.reports.report import report_html


def opened(pdf):
    """The objects of a PDF, those in compressed streams too."""
    found = [pdf]
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL):
        with contextlib.suppress(zlib.error):
            found.append(zlib.decompress(stream))
    return b"\n".join(found)


@pytest.mark.slow
def test_a_report_becomes_pages_of_paper(assessment):
    try:
        check_pdf()
    except OutputError as error:
        pytest.skip(str(error))
    pdf = pdf_bytes(report_html(assessment))
    assert pdf.startswith(b"%PDF-")
    # A4 in points, ISO 216: 210 mm by 297 mm
    boxes = re.findall(rb"/MediaBox ?\[0 0 ([\d.]+) ([\d.]+)\]", opened(pdf))
    assert 2 <= len(boxes) <= 8
    assert [float(side) for side in boxes[0]] == pytest.approx([595.28, 841.89], abs=0.02)


def test_what_is_missing_is_said_before_anything_is_computed(monkeypatch, tmp_path, capsys):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    study = tmp_path / "no_such_study.toml"
    assert main(["assess", str(study), "-o", str(tmp_path / "out"), "--pdf"]) == 2
    told = capsys.readouterr().err
    assert "pip install 'guideproof[pdf]'" in told and "no_such_study" not in told
    assert not (tmp_path / "out").exists()


def test_a_pdf_needs_a_folder(capsys):
    assert main(["modes", "WR-90", "--pdf"]) == 2
    assert "--pdf goes with -o FOLDER" in capsys.readouterr().err
