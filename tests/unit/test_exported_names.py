import subprocess
import sys
from pathlib import Path

import pytest

import geometries
import solver

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("package", [geometries, solver])
def test_every_exported_name_is_there(package):
    assert package.__all__ == sorted(package.__all__)
    for name in package.__all__:
        value = getattr(package, name)
        assert callable(value)
        assert value.__doc__


def test_other_names_are_refused():
    with pytest.raises(AttributeError, match="no attribute 'verify'"):
        _ = solver.verify


def test_no_module_hides_an_exported_name():
    for package in (geometries, solver):
        modules = {path.stem for path in Path(package.__file__).parent.glob("*.py")}
        assert modules.isdisjoint(package.__all__)


def test_importing_the_package_loads_no_library():
    code = "import sys, solver; sys.exit('numpy' in sys.modules)"
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)
