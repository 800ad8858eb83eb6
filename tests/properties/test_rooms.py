"""Rooms: a folder imports only from folders on lower floors, and no two files need each other."""

import ast
from collections import Counter
from graphlib import TopologicalSorter
from pathlib import Path

ROOT = Path(__file__).parents[2]

#: From the ground up; rooms on one floor do not import each other.
FLOORS = (
    ("geometries",),
    ("geometries.shapes",),
    ("geometries.cells",),
    ("geometries.plane_meshes", "geometries.space_meshes", "geometries.user_files"),
    ("geometries.solids",),
    ("solver",),
    ("solver.elements",),
    ("solver.fem",),
    ("solver.waves",),
    ("solver.resonances",),
    ("solver.loads", "solver.periodic", "solver.revolved"),
    ("solver.closed_forms", "solver.studies", "solver.parts"),
    ("solver.rules", "solver.families"),
    ("solver.judgement",),
    ("solver.measured", "solver.searches"),
    ("solver.runs",),
    ("solver.figures",),
    ("solver.output",),
    ("solver.exchange",),
    ("solver.reports",),
    ("solver.audits", "solver.sheets", "solver.supplements"),
    ("solver.run_output",),
    ("solver.commands",),
)
FLOOR_OF = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}
#: They hand on public names of all rooms, and start the program.
FACES = {"geometries", "solver", "solver.__main__"}
MOST_MODULES = 22


def module_name(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(path):
    """Modules that a file imports, inside functions and for types alone included."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            named = {f"{node.module}.{alias.name}" for alias in node.names}
            yield from (named & FILES.keys()) or {node.module}


def room_of(module):
    return module if FILES[module].name == "__init__.py" else module.rpartition(".")[0]


FILES = {module_name(p): p for top in ("geometries", "solver") for p in ROOT.glob(f"{top}/**/*.py")}
ARROWS = {module: set(imported(path)) & FILES.keys() for module, path in FILES.items()}


def test_every_folder_is_a_room_and_none_is_too_large():
    modules = Counter(room_of(m) for m, path in FILES.items() if path.name != "__init__.py")
    assert set(FLOOR_OF) == {room_of(module) for module in FILES}
    assert max(modules.values()) <= MOST_MODULES


def test_imports_run_downwards():
    upward = [
        f"{module} imports {target}"
        for module, targets in ARROWS.items()
        if module not in FACES
        for target in targets
        if (here := room_of(module)) != (there := room_of(target))
        and FLOOR_OF[there] >= FLOOR_OF[here]
    ]
    assert upward == []


def test_no_files_import_each_other_in_a_circle():
    TopologicalSorter(ARROWS).prepare()


def test_rooms_load_nothing_themselves():
    for module in set(FLOOR_OF) - FACES:
        assert not list(imported(FILES[module])), module
