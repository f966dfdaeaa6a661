"""What a model needs of a radio: jobs for the hands, lines over the air, ports at the receiver."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from attrs import evolve, field, frozen

from prebind.path.facts import AXES_OF, PRIMARY
from prebind.plan.wishes import StateWish, states

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    from prebind.plan.wishes import Json, Receiver

Kind = Literal["stick", "switch", "sprung", "continuous"]

CUT = "throttle cut"
RECOVERY = "recovery"
FLIGHT_MODE = "flight-mode"

MOST_IF_ROOM = 6
"""How many wishes of one model may be left out if there is no room: each set is tried."""

PURPOSE_FUNCTION: Mapping[str, str] = {
    "flight-mode": "flight-mode",
    "recovery": "recovery",
    "gain": "gain",
    "other": "other",
}
"""The function of the channel that carries a selector."""

_WITHOUT_PORT = frozenset({"arm"})  # the stabiliser listens to it
_RECOVERY_STATES = (StateWish("off", "off"), StateWish("recover", "recovery"))
_MIXED_AXES: Mapping[str, tuple[str, ...]] = {
    "elevon": ("roll", "pitch"),
    "v-tail": ("pitch", "yaw"),
    "swashplate": ("roll", "pitch"),
    "motors": ("roll", "pitch", "yaw"),
}


@frozen
class Selection:
    """What a selector of the receiver chooses between."""

    name: str
    purpose: str
    states: tuple[StateWish, ...]

    @property
    def fixed(self) -> bool:
        """Whether the receiver says in which bands the states lie."""
        return self.states[0].band is not None


@frozen
class Job:
    """Something for a hand to do, on a control of its own.

    `role` is what counts as the same job across models.  `kinds` are the kinds of control that
    will do, `positions` how many a switch needs.  `entries` are the wishes that ask for it.
    """

    id: str
    role: str
    kinds: frozenset[Kind]
    text: str
    entries: tuple[str, ...]
    positions: int = 2
    axis: str | None = None
    selection: Selection | None = None


@frozen
class Line:
    """One channel.  `job` is what drives it, None where only mixes do.

    `servos`: how many ports it takes; `axis`: the stabilised axis that they are on.
    """

    id: str
    function: str
    side: str | int | None
    job: str | None
    entry: str
    servos: int = 0
    axis: str | None = None
    selection: Selection | None = None


@frozen
class Entry:
    """One wish that can be granted or not.  `id` is its JSON Pointer in the wishes."""

    id: str
    text: str
    if_room: bool = False


@frozen
class Decision:
    """What somebody has settled already; `what` names a line or a job."""

    id: str
    what: str
    control: str | None = None
    channel: int | None = None
    port: int | None = None


@frozen
class Today:
    """How the model is set up now: job → control, line → channel, selector → states in order."""

    controls: Mapping[str, str] = field(factory=dict)
    channels: Mapping[str, int] = field(factory=dict)
    orders: Mapping[str, tuple[str, ...]] = field(factory=dict)


@frozen(eq=False)
class Needs:
    """All that one model asks for.  `ports`: port → its fixed channel, None where that is free."""

    name: str
    at: str
    entries: tuple[Entry, ...]
    jobs: tuple[Job, ...]
    lines: tuple[Line, ...]
    inputs: int
    ports: Mapping[int, int | None] = field(factory=dict)
    decisions: tuple[Decision, ...] = ()
    receiver: Receiver | None = None
    today: Today | None = None
    wish: Json = field(factory=dict)

    def job(self, id_: str) -> Job:
        return next(job for job in self.jobs if job.id == id_)

    def line(self, id_: str) -> Line:
        return next(line for line in self.lines if line.id == id_)

    def decisions_on(self, job: Job) -> tuple[Decision, ...]:
        """What is decided about the control of a job, under its name or that of its lines."""
        names = {job.id, *(line.id for line in self.lines if line.job == job.id)}
        return tuple(it for it in self.decisions if it.control is not None and it.what in names)

    def may_have(self, line: Line, channel: int) -> bool:
        """Whether the receiver lets a line be on a channel."""
        listed = self.receiver.selector_channels if self.receiver is not None else None
        return line.selection is None or listed is None or channel in listed

    def ports_for(self, line: Line) -> tuple[int, ...]:
        """Where its servos may be: a port that the stabiliser corrects is for its axis alone."""
        if line.servos == 0:
            return ()
        corrected = self.receiver.corrected if self.receiver is not None else {}
        if line.axis is not None:
            own = {port for port, _ in corrected[line.axis]}
            return tuple(port for port in self.ports if port in own)
        taken = {port for ports in corrected.values() for port, _ in ports}
        return tuple(port for port in self.ports if port not in taken)

    def control_today(self, job: Job) -> str | None:
        if self.today is None or "stick" in job.kinds:
            return None
        # A wished model's jobs are known in its setup by their roles.
        return self.today.controls.get(job.role if self.wish else job.id)

    def order_today(self, selection: Selection) -> tuple[str, ...] | None:
        """The order of the same states today, from the lowest pulse up."""
        order = self.today.orders.get(selection.name) if self.today is not None else None
        same = order is not None and set(order) == {state.state for state in selection.states}
        return order if same else None

    def lines_alike(self, dropped: Collection[str]) -> str:
        """The same for models whose lines differ in nothing that a channel or port depends on."""
        today = self.today.channels if self.today is not None else {}
        about = {it.what: it for it in self.decisions}
        of = [
            (
                line.servos,
                self.ports_for(line),
                bool(line.selection),
                today.get(line.id),
            )
            for line in self.lines
            if line.entry not in dropped and line.id not in about
        ]
        told = [
            (line.servos, self.ports_for(line), bool(line.selection), today.get(line.id), line.id)
            for line in self.lines
            if line.entry not in dropped and line.id in about
        ]
        limits = self.receiver.selector_channels if self.receiver is not None else None
        listed = sorted(limits) if limits is not None else None
        rest = (
            self.inputs,
            self.ports,
            listed,
            [(it.what, it.channel, it.port) for it in self.decisions],
        )
        return repr((sorted(of, key=repr), told, rest))

    @property
    def shape(self) -> str:
        """The same for models that differ in nothing but their names and places."""
        of = (
            self.entries,
            self.jobs,
            self.lines,
            self.inputs,
            self.ports,
            self.decisions,
            self.receiver.name if self.receiver is not None else None,
            self.today,
            bool(self.wish),
        )
        return repr(of).replace(f"'{self.at}/", "'/").replace(f"'{self.at}#", "'#")

    @property
    def told_controls(self) -> frozenset[str]:
        """Controls that somebody has named: decided on, or in use today."""
        told = {it.control for it in self.decisions if it.control is not None}
        return frozenset(told | set(self.today.controls.values() if self.today else ()))

    @property
    def names(self) -> tuple[str, ...]:
        """Everything that a decision can be about."""
        return tuple(dict.fromkeys([it.id for it in self.lines] + [it.id for it in self.jobs]))


def wished(wish: Json, at: str, receiver: Receiver | None, today: Today | None) -> Needs:
    """The needs of a wished model, whose functions and selectors are sound."""
    made = _Made(wish, at, receiver)
    return Needs(
        wish["name"],
        at,
        tuple(made.entries),
        tuple(made.jobs.values()),
        tuple(made.lines),
        receiver.inputs if receiver else 999,
        _free_ports(receiver),
        tuple(_decisions(wish, at)),
        receiver,
        today,
        wish,
    )


def name_of(entry: Json) -> str:
    """What a wished function is called: its function, and its side where there are several."""
    side = entry.get("side")
    return entry["function"] if side is None else f"{entry['function']} {side}"


def asks(kinds: frozenset[Kind], positions: int, axis: str | None = None) -> str:
    """The control that a job asks for, in words."""
    words = []
    if "stick" in kinds:
        words.append(f"the {axis} stick")
    if "switch" in kinds:
        words.append(f"a switch of {positions} positions that stays")
    if "sprung" in kinds:
        words.append("a button, or a switch of two positions that springs back")
    if "continuous" in kinds:
        words.append("a slider or knob")
    return " or ".join(words)


def stick_axis(function: str) -> str | None:
    """The stick that works a function where nothing else is said."""
    if function in ("throttle", "collective"):
        return "thrust"
    axes = AXES_OF.get(function, ())
    return axes[0] if len(axes) == 1 else None


def mixed_ports(receiver: Receiver | None) -> tuple[int, ...]:
    """The ports into which the receiver itself mixes its axes."""
    if receiver is None or receiver.mixing == "none":
        return ()
    axes = _MIXED_AXES[receiver.mixing]
    ports = [port for axis in axes for port, _ in receiver.corrected.get(axis, ())]
    return tuple(sorted(set(ports)))


def _free_ports(receiver: Receiver | None) -> dict[int, int | None]:
    """What servos can be plugged into, the ports that the receiver mixes itself left out."""
    if receiver is None:
        return {}
    mixed = mixed_ports(receiver)
    return {port: fixed for port, fixed in receiver.ports.items() if port not in mixed}


def mixed_in_receiver(function: str, receiver: Receiver | None) -> bool:
    """Whether the servos of a function are on ports that the receiver mixes itself."""
    if receiver is None or receiver.mixing == "none":
        return False
    if receiver.mixing == "swashplate" and function == "collective":
        return True
    if receiver.mixing == "motors" and function == "throttle":
        return True
    axes = AXES_OF.get(function, ())
    return function in PRIMARY and any(axis in _MIXED_AXES[receiver.mixing] for axis in axes)


class _Made:
    """The jobs, lines and entries of one wish, in its order."""

    def __init__(self, wish: Json, at: str, receiver: Receiver | None) -> None:
        self.entries: list[Entry] = []
        self.jobs: dict[str, Job] = {}
        self.lines: list[Line] = []
        self._receiver = receiver
        for i, entry in enumerate(wish["functions"]):
            self._function(entry, f"{at}/functions/{i}")
        for i, entry in enumerate(wish.get("selectors", ())):
            self._selector(entry, f"{at}/selectors/{i}")
        if wish.get("recovery"):
            self._recovery(f"{at}/recovery")
        if wish.get("throttle_cut", self._has_throttle(wish)):
            self._cut(f"{at}/throttle_cut")
        for i, entry in enumerate(wish.get("switches", ())):
            self._switch(entry, f"{at}/switches/{i}")

    @staticmethod
    def _has_throttle(wish: Json) -> bool:
        functions = {entry["function"] for entry in wish["functions"]}
        return "throttle" in functions and "arm" not in functions

    def _entry(self, at: str, text: str, entry: Json) -> str:
        self.entries.append(Entry(at, text, bool(entry.get("if_room", False))))
        return at

    def _job(self, job: Job) -> str:
        known = self.jobs.get(job.id)
        if known is not None:  # one control for left and right
            most = max(known.positions, job.positions)
            job = evolve(known, entries=(*known.entries, *job.entries), positions=most)
        self.jobs[job.id] = job
        return job.id

    def _function(self, entry: Json, at: str) -> None:
        function, name = entry["function"], name_of(entry)
        self._entry(at, name, entry)
        mixed = mixed_in_receiver(function, self._receiver)
        without = mixed or function in _WITHOUT_PORT
        servos = int(entry.get("servos", 0 if without else 1)) if not mixed else 0
        ports = min(servos, 1) if entry.get("y_lead") else servos
        axis = self._stabilised_axis(function) if not mixed else None
        job = self._function_job(entry, at)
        self.lines.append(Line(name, function, entry.get("side"), job, at, ports, axis))

    def _stabilised_axis(self, function: str) -> str | None:
        axes = AXES_OF.get(function, ())
        if function in PRIMARY and self._receiver is not None and len(axes) == 1:
            return axes[0] if axes[0] in self._receiver.corrected else None
        return None

    def _function_job(self, entry: Json, at: str) -> str | None:
        function = entry["function"]
        axis = stick_axis(function)
        kind: Kind | None = entry.get("control")
        if kind is None:
            kind = "stick" if axis is not None else "switch"
        if function in ("elevon", "v-tail"):
            for each in AXES_OF[function]:
                self._stick(each, at)
            return None
        if kind == "stick" and axis is not None:
            return self._stick(axis, at)
        positions = int(entry.get("positions", 2))
        kinds: frozenset[Kind] = frozenset((kind,))
        return self._job(Job(function, function, kinds, function, (at,), positions))

    def _stick(self, axis: str, at: str) -> str:
        return self._job(Job(axis, axis, frozenset(("stick",)), f"{axis} stick", (at,), axis=axis))

    def _selector(self, entry: Json, at: str) -> None:
        name, purpose = entry["name"], entry["purpose"]
        self._entry(at, name, entry)
        kinds: frozenset[Kind] = frozenset(("switch",))
        if "control" in entry:
            kinds = frozenset((entry["control"],))
        elif purpose == "gain":
            kinds = frozenset(("switch", "continuous"))
        selection = Selection(name, purpose, states(entry))
        self._selected(selection, kinds, at)

    def _recovery(self, at: str) -> None:
        self._entry(at, RECOVERY, {})
        selection = Selection(RECOVERY, RECOVERY, _RECOVERY_STATES)
        self._selected(selection, frozenset(("sprung",)), at)

    def _selected(self, selection: Selection, kinds: frozenset[Kind], at: str) -> None:
        purpose = selection.purpose
        role = purpose if purpose in (FLIGHT_MODE, RECOVERY) else selection.name
        job = Job(
            selection.name,
            role,
            kinds,
            selection.name,
            (at,),
            len(selection.states),
            selection=selection,
        )
        self._job(job)
        function = PURPOSE_FUNCTION[purpose]
        self.lines.append(Line(selection.name, function, None, job.id, at, selection=selection))

    def _cut(self, at: str) -> None:
        self._entry(at, CUT, {})
        self._job(Job(CUT, CUT, frozenset(("switch",)), CUT, (at,)))

    def _switch(self, entry: Json, at: str) -> None:
        name = entry["for"]
        self._entry(at, name, entry)
        positions = int(entry.get("positions", 2))
        self._job(Job(name, name, frozenset(("switch",)), name, (at,), positions))


def _decisions(wish: Json, at: str) -> Iterator[Decision]:
    for i, it in enumerate(wish.get("decided", ())):
        yield Decision(
            f"{at}/decided/{i}", it["what"], it.get("control"), it.get("channel"), it.get("port")
        )
