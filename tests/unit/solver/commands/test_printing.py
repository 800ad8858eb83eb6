import click
import pytest

from solver.commands.printing import writes_inches


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        (["modes", '0.9"x0.4"'], True),
        (["gradual", "bend", '--guide=0.9" x 0.4"'], True),
        (["explore", "study.toml", "--vary", "guide=0.9inx0.4"], True),
        (["gradual", "bend", "--guide", "0.9x0.4in"], True),
        (["gradual", "bend", "--guide", "22.86x10.16"], False),
        (["assess", "bend.toml", "-o", "WR-90"], False),
        (["assess", "0.9.toml"], False),
    ],
)
def test_a_guide_in_inches_on_the_command_line_is_seen(words, wanted):
    with click.Context(click.Command("guideproof"), obj=words):
        assert writes_inches() is wanted
