import io
import time

from solver.progress import ProgressLine


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
