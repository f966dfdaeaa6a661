"""What rule packs are tested with; the built-in rules are tested so too.

The whole test of a pack is two lines::

    import prebind.testing
    import my_pack

    test_examples = prebind.testing.example_tests(my_pack)
    test_conformance = prebind.testing.conformance_tests(my_pack)

A pack is named by its module or by the name under which it is installed, a rule sheet or a pack of
one Python file by its path.  Naming it runs its code.
"""

from __future__ import annotations

from prebind.testing.conformance import assert_conforms, conformance_tests
from prebind.testing.examples import (
    assert_fails,
    assert_passes,
    clean,
    example_tests,
    examples_of,
    inspected,
    patched,
    try_example,
)
from prebind.testing.source import Source

__all__ = [
    "Source",
    "assert_conforms",
    "assert_fails",
    "assert_passes",
    "clean",
    "conformance_tests",
    "example_tests",
    "examples_of",
    "inspected",
    "patched",
    "try_example",
]
