"""Read what a network analyser wrote: S-parameters in a Touchstone file."""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array
from solver.errors import StudyError
from solver.studies.messages import one_line

#: A sweep of a hundred thousand points of four ports stays below this size [bytes].
LARGEST_FILE = 100_000_000
#: More than this is no reflection or transmission of a passive part, only a file misread.
LARGEST_VALUE = 10.0

_NAME = re.compile(r"\.(s(\d+)p|ts)$", re.IGNORECASE)


@dataclass(frozen=True, eq=False)
class Measurement:
    """S-parameters as they were measured.

    Parameters
    ----------
    file : Path
    frequency : (n,) array
        Ascending [Hz].
    s : (n, m, m) complex array
        In the order of the file's ports.
    notes : tuple of str
        What was put right while reading.
    """

    file: Path
    frequency: Array
    s: NDArray[np.complex128]
    notes: tuple[str, ...] = ()

    @property
    def ports(self) -> int:
        """Number of ports."""
        return self.s.shape[1]

    def within(self, start: float, stop: float) -> Measurement:
        """Return the part of the sweep that lies in a band.

        Parameters
        ----------
        start, stop : float
            Ends of the band [Hz].

        Raises
        ------
        StudyError
            If none of it does.
        """
        slack = 1e-9 * stop
        inside = (self.frequency >= start - slack) & (self.frequency <= stop + slack)
        if not inside.any():
            raise StudyError(
                f"{one_line(str(self.file))}: measured from {self.frequency[0] / 1e9:.6g} to "
                f"{self.frequency[-1] / 1e9:.6g} GHz, none of it within the study's band, "
                f"{start / 1e9:.6g} to {stop / 1e9:.6g} GHz; change one of the two"
            )
        frequency = np.clip(self.frequency[inside], start, stop)
        return Measurement(self.file, frequency, self.s[inside], self.notes)


def read_touchstone(path: str | Path) -> Measurement:
    """Read a Touchstone file of any version, format, unit and order of frequencies.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Measurement
        The reference of the file's option line, as ``R 50``, is left alone: waves in a guide are
        relative to the guide, and an analyser writes 50 ohms because it has to write something.

    Raises
    ------
    StudyError
        With one line that names the file and what is wrong with it.
    """
    path = Path(path)
    name = one_line(str(path))
    _check_file(path, name)
    frequency, s = _parsed(path, name)
    if not len(frequency):
        raise StudyError(f"{name}: it holds no measured point; measure again")
    if not (np.isfinite(s).all() and np.isfinite(frequency).all() and (frequency > 0).all()):
        raise StudyError(f"{name}: a number is not finite, or a frequency not above 0; mend it")
    if np.abs(s).max() > LARGEST_VALUE:
        raise StudyError(
            f"{name}: |S| reaches {np.abs(s).max():.3g}, above {LARGEST_VALUE:g}; is this a "
            "passive part, and the format of the option line right?"
        )
    notes = []
    order = np.argsort(frequency, kind="stable")
    if (order != np.arange(len(order))).any():
        notes.append("the frequencies of the file were sorted")
    frequency, s = frequency[order], s[order]
    first = np.concatenate([[True], np.diff(frequency) > 0])
    if not first.all():
        notes.append(f"{int((~first).sum())} frequencies stand twice in the file: the first counts")
    return Measurement(path, frequency[first], s[first], tuple(notes))


def _check_file(path: Path, name: str) -> None:
    if not path.is_file():
        what = "is a folder" if path.is_dir() else "does not exist or is not a regular file"
        raise StudyError(f"{name}: {what}; name a Touchstone file, as part.s2p")
    if _NAME.search(path.name) is None:
        raise StudyError(
            f"{name}: the ending of its name must say the number of ports, as .s1p or .s2p"
        )
    if path.stat().st_size > LARGEST_FILE:
        raise StudyError(f"{name}: more than {LARGEST_FILE} bytes; is this the file?")


def _parsed(path: Path, name: str) -> tuple[Array, NDArray[np.complex128]]:
    import skrf

    network = skrf.Network()
    with warnings.catch_warnings():
        # frequencies out of order are put in order above
        warnings.simplefilter("ignore")
        try:
            network.read_touchstone(str(path))
        except Exception as error:
            # skrf raises whatever its parser stumbles over
            raise StudyError(f"{name}: {_fault(path, error)}") from error
    frequency = np.asarray(network.f, dtype=float)
    return frequency, np.asarray(network.s, dtype=complex)


def _fault(path: Path, error: Exception) -> str:
    """What is wrong with a file: its first line that holds something else than numbers."""
    try:
        lines = path.read_text(encoding="latin-1").splitlines()
    except OSError as refused:
        return f"cannot be read: {one_line(refused.strerror or str(refused))}"
    ports = _NAME.search(path.name)
    count = 1 + 2 * int(ports[2]) ** 2 if ports and ports[2] in ("1", "2") else None
    for number, line in enumerate(lines, start=1):
        text = line.partition("!")[0].strip()
        if not text or text[0] in "#[":
            continue
        words = text.split()
        if not all(map(_is_number, words)):
            return f"line {number} is not a row of numbers: {one_line(text)[:60]}; mend the line"
        if count is not None and len(words) not in (count, 5):
            return f"line {number} has {len(words)} numbers, not {count}; mend the line"
    return f"not a Touchstone file: {one_line(str(error).strip())[:100]}"


def _is_number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True
