"""Errors raised by the computation and by the command line's inputs and outputs.

::

    GuideproofError
    ├── StudyError              (ValueError)      a study file or option that cannot be used
    ├── BelowCutoffError        (ValueError)      a frequency at which the guide does not carry TE10
    ├── UnsupportedPartError    (ValueError)      a part that no solver here can take
    ├── LinearSolveError        (ArithmeticError) a factorisation or its residual failed
    ├── ProblemSizeError        (MemoryError)     the part needs more memory than there is
    ├── EngineError             (ConnectionError) a cluster that cannot be used, or went away
    └── OutputError             (OSError)         a result could not be written
"""


class GuideproofError(Exception):
    """Base of every error raised in this package."""


class StudyError(GuideproofError, ValueError):
    """A study file or option that cannot be used; the text is one line."""


class BelowCutoffError(GuideproofError, ValueError):
    """A frequency at which the dominant mode does not propagate."""


class UnsupportedPartError(GuideproofError, ValueError):
    """A part that no solver here can take."""


class LinearSolveError(GuideproofError, ArithmeticError):
    """A factorisation failed, or the residual of a solution is too large."""


class ProblemSizeError(GuideproofError, MemoryError):
    """The discretised part needs more memory than the machine has."""


class EngineError(GuideproofError, ConnectionError):
    """A cluster of workers that cannot be used, or that went away."""


class OutputError(GuideproofError, OSError):
    """A result could not be written."""
