"""When, by which command and from which study a result was made, for its report."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

#: A longer study is shown up to here [characters].
_MOST_SHOWN = 20_000


@dataclass(frozen=True)
class RunRecord:
    """How a result came about.

    Parameters
    ----------
    made : str
        Date and time, with the difference from UTC.
    command : str
        The command line; empty for a result that was asked for from Python.
    study_name, study : str
        Name and text of the study file; empty where there was none.
    """

    made: str
    command: str = ""
    study_name: str = ""
    study: str = ""

    @classmethod
    def now(cls, command: str = "", study: str | Path | None = None) -> RunRecord:
        """Return the record of a run that ends now.

        Parameters
        ----------
        command : str
        study : str or Path, optional
            The study file; its text is read again.
        """
        made = datetime.now(UTC).astimezone().strftime("%Y-%m-%d %H:%M %z")
        if study is None:
            return cls(made, command)
        text = Path(study).read_text(encoding="utf-8", errors="replace").strip()
        if len(text) > _MOST_SHOWN:
            text = f"{text[:_MOST_SHOWN]}\n# ... and {len(text) - _MOST_SHOWN} more characters"
        return cls(made, command, Path(study).name, text)
