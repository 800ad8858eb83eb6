"""The examples in docstrings hold."""

import doctest
import importlib

import pytest

from tests.properties.test_rooms import FILES

WITH_EXAMPLES = sorted(m for m, path in FILES.items() if ">>>" in path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("module", WITH_EXAMPLES)
def test_examples_give_what_they_say(module):
    found = doctest.testmod(importlib.import_module(module), optionflags=doctest.ELLIPSIS)
    assert found.attempted > 0
    assert found.failed == 0
