"""What README.md and DEVELOPERS.md show is true: code runs, commands exist, files are there."""

import re
import tomllib
from pathlib import Path

import pytest

from solver.commands.command_line import commands

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(language):
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)


@pytest.mark.slow
def test_the_python_examples_run(capsys, monkeypatch):
    first, second = blocks("python")
    exec(compile(first, "README.md", "exec"), {})
    assert re.match(
        r"meets - worst VSWR 1\.0\d+ at \S+ GHz, between 1\.0\d+ and 1\.0\d+$",
        capsys.readouterr().out,
    )
    monkeypatch.chdir(ROOT)
    exec(compile(second, "README.md", "exec"), {})
    out = capsys.readouterr().out
    assert re.match(r"0\.0\d+\n", out)
    assert "cut_mm" in out


def test_the_study_shown_can_be_read(tmp_path):
    from solver.studies.study import read_study

    (text,) = blocks("toml")
    path = tmp_path / "shown.toml"
    path.write_text(text, encoding="utf-8")
    shown = read_study(path)
    shipped = read_study(ROOT / "geometries" / "studies" / "radar_mast_bend.toml")
    assert shown.component == shipped.component
    assert shown.band == shipped.band


@pytest.mark.parametrize("path", sorted((ROOT / "geometries" / "studies").glob("*.toml")))
def test_every_shipped_study_can_be_read(path):
    from solver.studies.study import read_study

    study = read_study(path)
    assert study.title
    assert study.limit is not None


def test_commands_and_options_exist():
    shell = "\n".join(blocks("sh")).replace("\\\n", " ")
    used = re.findall(r"guideproof (\w+)(.*)", shell) + re.findall(
        r"`guideproof (\w+)([^`]*)", README
    )
    assert {name for name, _ in used} == set(commands.commands)
    for name, rest in used:
        known = {option for p in commands.commands[name].params for option in p.opts}
        assert set(re.findall(r"(?<=\s)(--?[a-z][a-z-]*)", rest)) <= known, name


def test_paths_that_are_named_exist():
    for text in (README, DEVELOPERS):
        for path in re.findall(r"\b((?:geometries|solver|tests|benchmarks)/[\w./]*\w)", text):
            assert (ROOT / path).exists(), path


def test_the_set_up_installs_what_pyproject_offers():
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"][
        "optional-dependencies"
    ]
    assert "test" in extras
    assert ".venv/bin/pip install -e '.[test]'" in README
    # The script of continuous integration takes the test command from here.
    assert len(re.findall(r"^\.venv/bin/python -m pytest", README, flags=re.MULTILINE)) == 1
    assert "s/^\\.venv\\/bin\\/\\(python -m pytest" in (ROOT / ".ci" / "run").read_text()
