"""What a reader is told to do next holds for the part in hand, and runs."""

import math
import shlex

import click
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.loads import Load
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.twists import Twist
from solver.commands.command_line import commands
from solver.reports.next_steps import next_steps

WR90 = standard_guide("WR-90")
OWN = RectangularGuide(20e-3, 9.5e-3)
LOAD = Load(WR90, "H", "centre", 0.02, 0.01, permittivity=4.0, loss_tangent=0.2)
CHOKE = ChokeFlange(WR90, 0.2e-3, 25e-3, 14e-3, 16e-3, 8e-3)


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (Bend(WR90, "H", math.radians(30), 0.05), "gradual --guide WR-90 --plane H --angle-deg 30"),
        (Bend(OWN, "E", math.pi / 2, 0.03), "gradual --guide 20x9.5 --plane E --angle-deg 90"),
        (Twist(WR90, math.pi / 2, 0.05), "gradual --guide WR-90 --kind twist --angle-deg 90"),
        (Taper(WR90, OWN, 0.05), "gradual --guide WR-90 --kind taper --to-guide 20x9.5"),
        (Taper(WR90, OWN, 0.05, "hecken"), "explore riser.toml --vary component.length_mm=50:150"),
        (Corner(WR90, "E", math.pi / 2, 0.0), "seek riser.toml --vary component.cut_mm=0:18.3"),
        (LOAD, "gradual riser.toml"),
        (CHOKE, "seek riser.toml --vary component.groove_depth_mm=5.6:10.4 --least reflection"),
    ],
    ids=lambda value: getattr(value, "kind", ""),
)
def test_a_part_that_fails_gets_a_line_that_parses(assessment_maker, part, words):
    (step,) = next_steps(assessment_maker(component=part, vswr=1.01, rules=()), "riser.toml")
    assert words in step.command
    program, verb, *arguments = shlex.split(step.command)
    assert program == "guideproof"
    command = commands.commands[verb]
    command.make_context(verb, arguments)  # a usage error would raise
    assert isinstance(command, click.Command)


def test_parts_without_a_search_get_no_line(assessment_maker):
    assert next_steps(assessment_maker(component=Straight(WR90, 0.1), vswr=1.01)) == []


def test_an_undecided_one_is_told_which_accuracy_to_ask_for(assessment_maker):
    undecided = assessment_maker(vswr=1.04081632653)  # (1 + 0.02) / (1 - 0.02), inside the bar
    assert undecided.verdict.outcome == "undecided"
    (step,) = next_steps(undecided)
    assert "s_error = 1e-05" in step.text


def test_one_that_meets_is_told_how_small_it_could_be(assessment_maker):
    (step,) = next_steps(assessment_maker())
    assert step.command.endswith("--from-ghz 8.2 --to-ghz 12.4 --vswr 1.05")
