"""Makes `values/swept_parts.csv`: swept parts by another library.

Every part is solved on two graded lattices of NGSolve (`lattice_guides`); the better answer is
kept, and the largest difference of any S between the two is its uncertainty. Run from the
repository's root: ``python -m tests.references.swept_values [NAME ...]``; without names all parts
are solved, which takes some half an hour and up to 5 GB.
"""

import csv
import math
import sys
from pathlib import Path

import numpy as np

from tests.references import lattice_guides

FILE = Path(__file__).parent / "values" / "swept_parts.csv"
FREQUENCIES = (8.2e9, 10.3e9, 12.4e9)
SIZE = (22.86, 10.16)  # WR-90, mm
COLUMNS = ("part", "frequency_hz", "s11_re", "s11_im", "s21_re", "s21_im", "s22_re", "s22_im")

# solver, sizes in mm and rad, then (order, layers, cells) of the worse and of the better lattice
PARTS = {
    "dent": (
        lambda **c: lattice_guides.dent(*SIZE, "broad", 2, 15, 12, **c),
        ((4, 1, (1, 1, 1, 2)), (5, 2, (1, 1, 1, 2))),
    ),
    "deep dent": (
        lambda **c: lattice_guides.dent(*SIZE, "broad", 8, 10, 22.86, **c),
        ((5, 1, (2, 1, 1, 2)), (6, 1, (2, 1, 1, 2))),
    ),
    "dent of the narrow wall": (
        lambda **c: lattice_guides.dent(*SIZE, "narrow", 6, 12, 8, **c),
        ((4, 1, (1, 1, 2, 2)), (5, 1, (1, 1, 2, 2))),
    ),
    "transition": (
        lambda **c: lattice_guides.transition(*SIZE, 25, 20, **c),
        ((5, 1, (1, 1, 1)), (5, 2, (1, 1, 1))),
    ),
    "short transition": (
        lambda **c: lattice_guides.transition(*SIZE, 25, 3, **c),
        ((4, 3, (1, 1, 1)), (5, 3, (1, 1, 1))),
    ),
    "twist": (
        lambda **c: lattice_guides.twist(*SIZE, math.radians(90), 30, **c),
        ((4, 2, (2, 1, 2)), (5, 2, (2, 1, 2))),
    ),
    "steep twist": (
        lambda **c: lattice_guides.twist(*SIZE, math.radians(60), 8, **c),
        ((4, 2, (2, 1, 1)), (5, 2, (2, 1, 1))),
    ),
    "raised-cosine twist": (
        lambda **c: lattice_guides.twist(*SIZE, math.radians(90), 20, True, **c),
        ((4, 1, (2, 1, 2)), (5, 1, (2, 1, 2))),
    ),
    "taper": (
        lambda **c: lattice_guides.taper(SIZE, (28.499, 12.624), 15, **c),
        ((5, 2, (1, 1, 1)), (6, 2, (1, 1, 1))),
    ),
    "short taper": (
        lambda **c: lattice_guides.taper(SIZE, (34, 15), 4, **c),
        ((4, 3, (1, 1, 1)), (5, 3, (1, 1, 1))),
    ),
    "flexible": (
        lambda **c: lattice_guides.flexible(*SIZE, 10, 2, 2, **c),
        ((4, 1, (2, 1, 2)), (5, 1, (2, 1, 3))),
    ),
    "steep flexible": (
        lambda **c: lattice_guides.flexible(*SIZE, 5, 2.5, 3, **c),
        ((4, 1, (2, 1, 3)), (5, 1, (2, 1, 4))),
    ),
    "flexible bent in E": (
        lambda **c: lattice_guides.bent_flexible(*SIZE, 10, 2, 3, "E", math.radians(60), **c),
        ((4, 1, (2, 1, 2)), (5, 1, (2, 1, 3))),
    ),
    "flexible bent in H": (
        lambda **c: lattice_guides.bent_flexible(*SIZE, 10, 2, 3, "H", math.radians(60), **c),
        ((4, 1, (2, 1, 2)), (5, 1, (2, 1, 3))),
    ),
    "fine flexible bent in E": (
        lambda **c: lattice_guides.bent_flexible(*SIZE, 5, 1.5, 6, "E", math.radians(45), **c),
        ((4, 1, (2, 1, 2)), (5, 1, (2, 1, 2))),
    ),
    "tight flexible bent in H": (
        lambda **c: lattice_guides.bent_flexible(*SIZE, 8, 3, 4, "H", math.radians(90), **c),
        ((4, 1, (2, 1, 3)), (5, 1, (2, 1, 3))),
    ),
}


def answer(make, order, layers, cells):
    """S11, S21 and S22 (n, 3) of one discretisation."""
    part = make(order=order, layers=layers, cells=cells, highest=FREQUENCIES[-1])
    return np.array([part.pair(f) for f in FREQUENCIES])


def read_values():
    """Answers (n, 3) and the uncertainty, by name."""
    found = {}
    with FILE.open(newline="") as file:
        for row in csv.DictReader(file):
            values = [float(row[name]) for name in COLUMNS[2:]]
            s = [complex(*values[i : i + 2]) for i in (0, 2, 4)]
            answers, _ = found.setdefault(row["part"], ([], float(row["uncertainty"])))
            answers.append(s)
    return {name: (np.array(s), doubt) for name, (s, doubt) in found.items()}


def main(names):
    known = read_values() if FILE.exists() else {}
    for name in names or PARTS:
        make, (worse, better) = PARTS[name]
        first, best = answer(make, *worse), answer(make, *better)
        known[name] = best, float(np.abs(best - first).max())
        print(name, f"{known[name][1]:.1e}", flush=True)
        with FILE.open("w", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow([*COLUMNS, "uncertainty"])
            for part in (p for p in PARTS if p in known):
                s, doubt = known[part]
                for f, values in zip(FREQUENCIES, s, strict=True):
                    digits = [f"{x:.8f}" for z in values for x in (z.real, z.imag)]
                    writer.writerow([part, f"{f:.0f}", *digits, f"{doubt:.1e}"])


if __name__ == "__main__":
    main(sys.argv[1:])
