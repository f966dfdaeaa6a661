"""What belongs to a stabilised axis."""

from __future__ import annotations

import prebind
from prebind.testing import clean


def test_an_axis_has_the_directions_that_it_corrects_and_no_others() -> None:
    report = prebind.Inspector().inspect(clean())
    assert report.setup is not None
    path = prebind.trace(report.setup)
    assert path.axes
    for axis in path.axes:
        ports = {port.port for port in axis.entry.ports}
        assert {direction.port_number for direction in axis.directions} == ports
        assert {direction.axis for direction in axis.directions} == {axis.axis}
