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


def test_a_command_that_goes_wrong_on_a_port_without_a_servo_is_told_at_the_port() -> None:
    """There is no servo whose entry could be blamed."""
    document = clean()
    document["servos"] = [servo for servo in document["servos"] if servo["port"] != 3]
    document["receiver"]["stabiliser"]["expects"] = {"pitch": {"direction": -1}}
    report = prebind.Inspector().inspect(document)
    assert report.problems == ()
    assert report.path is not None
    (bare,) = [it for it in report.path.directions if it.servo is None]
    assert bare.turning_at == bare.at
