"""prebind: reads how a radio-control model is set up, and says what is wrong before it is bound.

::

    import prebind

    inspector = prebind.Inspector()      # built-in rules and installed packs, set up once
    report = inspector.inspect(data)     # bytes, str or a parsed mapping; never raises on bad input
    report.findings, report.problems, report.grounds("caution")
    path = prebind.trace(report.setup)   # the signal path

Names are imported when they are first used: imports are most of a short run's time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from prebind import model as model
    from prebind.document import Document, read
    from prebind.document.model import Setup
    from prebind.inspect.finding import Finding, Report
    from prebind.inspect.inspector import Configuration, Inspector
    from prebind.path import Path
    from prebind.path.channel import ChannelPath
    from prebind.path.control import ControlPath, Job
    from prebind.path.direction import AxisPath, DirectionPath
    from prebind.path.facts import Controls, Extreme, Position
    from prebind.path.motor import MotorPath, MotorState
    from prebind.path.names import Reference
    from prebind.path.port import PortPath, PortReach
    from prebind.path.response import Least, Response
    from prebind.path.selector import BandUs, Selected, SelectorPath
    from prebind.path.servo import ServoPath
    from prebind.problem import Problem

__version__ = "0.1.0"

_HOME = {
    "BandUs": "prebind.path.selector",
    "Controls": "prebind.path.facts",
    "Extreme": "prebind.path.facts",
    "Job": "prebind.path.control",
    "MotorState": "prebind.path.motor",
    "PortReach": "prebind.path.port",
    "Position": "prebind.path.facts",
    "Reference": "prebind.path.names",
    "Selected": "prebind.path.selector",
    "AxisPath": "prebind.path.direction",
    "ChannelPath": "prebind.path.channel",
    "Configuration": "prebind.inspect.inspector",
    "ControlPath": "prebind.path.control",
    "DirectionPath": "prebind.path.direction",
    "Document": "prebind.document",
    "Finding": "prebind.inspect.finding",
    "Inspector": "prebind.inspect.inspector",
    "Least": "prebind.path.response",
    "MotorPath": "prebind.path.motor",
    "Path": "prebind.path",
    "PortPath": "prebind.path.port",
    "Problem": "prebind.problem",
    "Report": "prebind.inspect.finding",
    "Response": "prebind.path.response",
    "SelectorPath": "prebind.path.selector",
    "ServoPath": "prebind.path.servo",
    "Setup": "prebind.document.model",
    "read": "prebind.document",
}

__all__ = [
    "AxisPath",
    "BandUs",
    "ChannelPath",
    "Configuration",
    "ControlPath",
    "Controls",
    "DirectionPath",
    "Document",
    "Extreme",
    "Finding",
    "Inspector",
    "Job",
    "Least",
    "MotorPath",
    "MotorState",
    "Path",
    "PortPath",
    "PortReach",
    "Position",
    "Problem",
    "Reference",
    "Report",
    "Response",
    "Selected",
    "SelectorPath",
    "ServoPath",
    "Setup",
    "model",
    "read",
    "trace",
]


def trace(setup: Setup) -> Path:
    """The signal path of a setup: every channel, port, state, direction, motor and deflection.

    A pure function of the setup; each fact is computed when it is first asked for.
    """
    from prebind.path import Path

    return Path(setup)


def __getattr__(name: str) -> Any:
    from importlib import import_module

    if name == "model":
        return import_module("prebind.model")
    if name not in _HOME:
        raise AttributeError(f"module 'prebind' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)
