import io
import time

from solver.progress import ProgressLine, ends_early


def test_short_work_says_nothing():
    stream = io.StringIO()
    with ProgressLine(stream, patience=5.0) as progress:
        progress("mesh")
    assert stream.getvalue() == ""


def test_long_work_names_its_step_once():
    stream = io.StringIO()
    with ProgressLine(stream, patience=0.01) as progress:
        progress("sweep", 0.25)
        time.sleep(0.2)
    assert stream.getvalue() == "guideproof: sweep (25%)\n"


def test_a_terminal_gets_one_line_that_goes_away():
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    stream = Terminal()
    with ProgressLine(stream, patience=0.01) as progress:
        progress("sweep [1]", 0.5)
        time.sleep(0.4)
    assert "sweep [1]" in stream.getvalue()


def test_a_share_of_the_work_tells_how_long_the_rest_takes(monkeypatch):
    now = iter([0.0, 10.0, 20.0])
    monkeypatch.setattr("solver.progress.time.monotonic", lambda: next(now))
    line = ProgressLine(io.StringIO())
    line.within = "riser.toml"
    line("sizes", 0.2)
    line("sizes", 0.21)
    assert line._step == "riser.toml: sizes"
    # a fifth more in 20 s: the other 60 % take 60 s
    line("sizes", 0.4)
    assert line._step == "riser.toml: sizes, about 60 s left"


def test_only_who_keeps_results_ends_early():
    assert not ends_early(None)
    assert not ends_early(ProgressLine(io.StringIO()))
    assert ends_early(ProgressLine(io.StringIO(), keeps=True))
