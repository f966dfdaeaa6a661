from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import Any

import pytest

from prebind import Inspector, Problem, Report
from prebind.format import Run, Sheet

Tell = Callable[..., str]

INSPECTOR = Inspector()


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "browser: needs a browser, and is skipped without one")


@pytest.fixture
def tell() -> Tell:
    """The report of a format on some documents, and problems beside theirs."""

    def telling(
        name: str, reports: Sequence[Report], problems: Sequence[Problem] = (), **run: Any
    ) -> str:
        out = io.StringIO()
        writer = INSPECTOR.formats[name].begin(Sheet(out), Run(INSPECTOR, **run))
        for report in reports:
            writer.document(report)
        writer.end([*problems, *(problem for report in reports for problem in report.problems)])
        return out.getvalue()

    return telling
