"""Several studies in one command: one table, the worst exit code, nothing finished is lost."""

import json

import pytest

from solver.commands.command_line import main
from solver.errors import LinearSolveError

STUDY = """
title = "riser"
guide = "WR-90"
component = {{ kind = "bend", plane = "E", angle_deg = 37.0, mean_radius_mm = {radius} }}
band = {{ from_ghz = 8.2, to_ghz = 12.4, points = 3 }}
limit = {{ vswr = {vswr} }}
accuracy = {{ s_error = 1e-3 }}
"""


@pytest.fixture
def studies(tmp_path):
    """A part that meets its limit, one that does not, and one as good as the first."""
    paths = []
    for name, radius, vswr in (("good", 45, 1.2), ("sharp", 6, 1.0001), ("other", 50, 1.2)):
        path = tmp_path / f"{name}.toml"
        path.write_text(STUDY.format(radius=radius, vswr=vswr), encoding="utf-8")
        paths.append(str(path))
    return paths


@pytest.mark.slow
def test_one_table_and_the_exit_code_of_the_worst(studies, tmp_path, capsys):
    folder = tmp_path / "out"
    assert main(["assess", *studies, "-o", str(folder)]) == 1
    out = capsys.readouterr().out
    rows = {row.split()[0]: row for row in out.splitlines() if ".toml" in row}
    assert len(out.splitlines()) < 30
    assert "exceeds" in out and "meets" in out
    assert {path.name for path in folder.iterdir()} == {"good", "sharp", "other"}
    assert (folder / "sharp" / "report.html").is_file()
    assert len(rows) <= 3
    assert main(["assess", studies[0], studies[2], "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [study["file"] for study in told["studies"]] == [studies[0], studies[2]]
    assert told["studies"][0]["verdict"]["outcome"] == "meets"
    assert told["exit_code"] == 0


def test_nothing_is_computed_when_one_cannot_be_read(studies, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("solver.judgement.assess_part.assess", None)
    assert main(["assess", *studies, str(tmp_path / "none.toml")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "none.toml: does not exist" in err


def breaking(monkeypatch, error):
    """Let the second of several assessments fail."""
    from solver.judgement import assess_part

    real, count = assess_part.assess, []

    def assess(*given, **named):
        count.append(1)
        if len(count) == 2:
            raise error
        return real(*given, **named)

    monkeypatch.setattr(assess_part, "assess", assess)


def test_a_part_that_cannot_be_solved_leaves_the_others(studies, monkeypatch, capsys):
    breaking(monkeypatch, LinearSolveError("no pivot"))
    assert main(["assess", *studies, "--json"]) == 2
    told = json.loads(capsys.readouterr().out)["studies"]
    assert [study["verdict"]["outcome"] for study in told] == ["meets", "cannot be used", "meets"]
    assert told[1]["verdict"]["reasons"] == ["no pivot"]


def test_an_interrupt_keeps_the_studies_that_are_finished(studies, tmp_path, monkeypatch, capsys):
    breaking(monkeypatch, KeyboardInterrupt())
    folder = tmp_path / "out"
    assert main(["assess", *studies, "--json", "-o", str(folder)]) == 130
    out, err = capsys.readouterr()
    outcomes = [study["verdict"]["outcome"] for study in json.loads(out)["studies"]]
    assert outcomes == ["meets", "not computed", "not computed"]
    assert [path.name for path in folder.iterdir()] == ["good"]
    assert "what was finished stands above" in err


def test_two_studies_of_one_name_are_not_put_into_one_folder(studies, tmp_path, capsys):
    (tmp_path / "more").mkdir()
    other = tmp_path / "more" / "good.toml"
    other.write_text(STUDY.format(radius=45, vswr=1.2), encoding="utf-8")
    assert main(["assess", studies[0], str(other), "-o", str(tmp_path / "out")]) == 2
    assert "two are called good" in capsys.readouterr().err


def test_every_reading_of_the_rules_is_shown_study_by_study(studies, capsys):
    assert main(["assess", studies[0], studies[2], "--rules"]) == 0
    text = capsys.readouterr().out
    for name in ("good.toml", "other.toml"):
        assert f"\n{name}\nrule of thumb" in text
    assert "readings)" not in text


def test_an_interrupt_says_what_is_lost(studies, monkeypatch, capsys):
    def interrupted(*given, progress, **named):
        progress("field")
        raise KeyboardInterrupt

    monkeypatch.setattr("solver.judgement.assess_part.assess", interrupted)
    assert main(["assess", studies[0]]) == 130
    out, err = capsys.readouterr()
    assert out == ""
    last = err.splitlines()[-1]
    assert (
        "nothing was written of good.toml, which was at: field; a verdict needs the whole band"
        in last
    )
