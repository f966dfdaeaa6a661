"""A screen of another hobby tool, without the drawing: what it shows after every change.

It keeps one setup as text, holds one `Inspector`, and inspects on every change, as one types.  The
model, its radio and its owner are invented: the Tern Bay Model Flying Club does not exist.
"""

from __future__ import annotations

import json

import jsonpatch

import prebind

SETUP = """{
  "format": "model-setup/1",
  "model": {"name": "Knot 900", "airframe": "aeroplane", "propulsion": {"kind": "electric"}},
  "transmitter": {
    "channels": 8,
    "start_checks": ["throttle-low"],
    "controls": {
      "left-stick": {"kind": "stick", "axis": "thrust"},
      "rudder-stick": {"kind": "stick", "axis": "yaw"},
      "elevator-stick": {"kind": "stick", "axis": "pitch"},
      "cut-switch": {"kind": "switch", "positions": ["run", "cut"]}
    }
  },
  "channels": [
    {"channel": 1, "function": "throttle", "control": "left-stick"},
    {"channel": 2, "function": "elevator", "control": "elevator-stick"},
    {"channel": 3, "function": "rudder", "control": "rudder-stick"}
  ],
  "overrides": [
    {
      "name": "throttle cut",
      "purpose": "throttle-cut",
      "channel": 1,
      "demand_percent": -100,
      "when": [{"control": "cut-switch", "positions": ["cut"]}],
      "release": "at-low"
    }
  ],
  "receiver": {
    "inputs": 6,
    "outputs": [
      {"port": 1, "channel": 1},
      {"port": 2, "channel": 2},
      {"port": 3, "channel": 3}
    ]
  },
  "servos": [
    {"port": 2, "surface": "elevator", "increasing_pulse": "trailing-edge-up"},
    {"port": 3, "surface": "rudder", "increasing_pulse": "trailing-edge-right"}
  ],
  "speed_controls": [{"port": 1, "stop_below_us": 1150, "full_above_us": 1850}],
  "surfaces": [
    {"id": "elevator", "function": "elevator"},
    {"id": "rudder", "function": "rudder"}
  ]
}
"""

ELEVATOR = '"control": "elevator-stick"'

TYPED = (
    ("reverses the elevator", ELEVATOR, ELEVATOR + ', "reversed": true'),
    ("starts to type a travel", "true}", 'true, "travel_percent": {"low": 2'),
    ("finishes the number", '{"low": 2', '{"low": 25, "high": 25}}'),
    ("thinks better of the reversing", ', "reversed": true', ""),
    ("lets the cut go at once", '"at-low"', '"at-once"'),
)
"""What the owner does, and what then stands in place of what."""


class Screen:
    """What is shown of one setup; one `Inspector` serves it for its whole life."""

    def __init__(self, text: str) -> None:
        self._inspector = prebind.Inspector()
        self._fails: dict[str, prebind.Finding] = {}
        self.text = text
        self._show()

    def type(self, old: str, new: str) -> None:
        self.text = self.text.replace(old, new, 1)
        self._show()

    def press_fix(self, finding: prebind.Finding) -> None:
        """Lays in the fix of a finding; a person has pressed the button beside it."""
        assert finding.fix is not None
        mended = jsonpatch.apply_patch(json.loads(self.text), list(finding.fix.patch))
        self.text = json.dumps(mended, indent=2)
        self._show()

    def fixable(self) -> prebind.Finding:
        return next(finding for finding in self._fails.values() if finding.fix is not None)

    def _show(self) -> None:
        report = self._inspector.inspect(self.text, path="knot.setup.json")
        if report.document is None:  # half typed: what was shown stays on the screen
            problem = report.problems[0]
            print(f"  … {problem.line}:{problem.column} {problem.message}")
            return
        fails = {found.fingerprint: found for found in report.findings if found.kind == "fail"}
        for fingerprint, found in fails.items():
            if fingerprint not in self._fails:
                print(f"  + {self._line(report, found)}")
        for fingerprint, found in self._fails.items():
            if fingerprint not in fails:
                print(f"  - {found.word} {found.rule} is gone")
        self._fails = fails

    def _line(self, report: prebind.Report, found: prebind.Finding) -> str:
        place = report.place(found)
        where = f"line {place.line}: " if place is not None else ""
        button = "  [fix]" if found.fix is not None else ""
        return f"{found.word} {found.rule}, {where}{found.message}{button}"


def main() -> None:
    print("The owner opens the setup.")
    screen = Screen(SETUP)
    for what, old, new in TYPED:
        print(f"The owner {what}.")
        screen.type(old, new)
    found = screen.fixable()
    print(f"The owner presses the button beside {found.rule}.")
    screen.press_fix(found)


if __name__ == "__main__":
    main()
