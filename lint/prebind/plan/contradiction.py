"""Why a model does not fit a transmitter: the smallest set of wishes that contradict each other.

A set that contradicts itself must have a member outside every set that does not.  So the smallest
set that does hit all of these is tried; as long as it fits, it is grown as far as it can be, and
one more is known (implicit hitting sets).  Wishes that ask for the same only count.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from attrs import evolve, frozen

from prebind.document.model import Control
from prebind.document.wording import any_of
from prebind.plan import solver
from prebind.plan.needs import Decision, Entry, asks
from prebind.plan.program import Program
from prebind.plan.suits import suits
from prebind.plan.wishes import Grip

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence

    from prebind.plan.needs import Job, Line, Needs
    from prebind.plan.wishes import Radio

Half = Literal["hands", "lines"]
HALVES: tuple[Half, ...] = ("hands", "lines")

_MOST_MORE = 16  # channels, ports or inputs that are tried in addition
_MOST_CONTROLS = 5


@frozen
class Wanted:
    """One wish of a contradiction: its JSON Pointer, and what it asks for."""

    at: str
    text: str


@frozen(eq=False)
class Contradiction:
    """`wishes` cannot be granted together, but any of them less and the rest can.

    `message` says why, `remedies` what would resolve it; each was tried.
    """

    model: str
    transmitter: str
    half: Half
    wishes: tuple[Wanted, ...]
    message: str
    remedies: tuple[str, ...]


def contradictions(needs: Needs, radio: Radio) -> list[Contradiction]:
    """The smallest, then those among what it leaves over; none where all fits."""
    found = []
    for half in HALVES:
        sets = list(_apart(needs, radio, half))
        for chosen in sets:
            others = frozenset().union(*sets) - chosen
            found.append(_told(needs, radio, half, chosen, others))
    return sorted(found, key=lambda it: len(it.wishes))


def _apart(needs: Needs, radio: Radio, half: Half) -> Iterator[frozenset[str]]:
    """Sets that contradict themselves and have no wish in common, the smallest first."""
    met: frozenset[str] = frozenset()
    while (found := smallest_set(needs, radio, half, met)) is not None:
        yield found
        met |= found


def smallest_set(
    needs: Needs, radio: Radio, half: Half, apart_from: Collection[str] = ()
) -> frozenset[str] | None:
    """Ids of the fewest wishes and decisions that contradict each other, None where none do.

    Those in `apart_from` do not count.
    """
    classes = [
        left
        for members in _alike(needs, radio, half)
        if (left := [it for it in members if it not in apart_from])
    ]
    fitting: list[list[int]] = []  # how many of each class are known to fit together
    while True:
        counts = _hitting([len(members) for members in classes], fitting)
        if counts is None:
            return None
        chosen = [m for members, n in zip(classes, counts, strict=True) for m in members[:n]]
        grown = _grown(needs, radio, half, chosen, apart_from)
        if grown is None:
            return frozenset(chosen)
        fitting.append([len(grown & set(members)) for members in classes])


def fits(needs: Needs, radio: Radio, half: Half, chosen: Collection[str]) -> bool:
    """Whether these wishes and decisions can all be had."""
    return _grown(needs, radio, half, chosen) is not None


def _alike(needs: Needs, radio: Radio, half: Half) -> list[list[str]]:
    """Wishes and decisions, those together that ask for the same."""
    classes: dict[object, list[str]] = {}
    decided = {it.what for it in needs.decisions}
    for entry in needs.entries:
        if not entry.if_room:
            key = _signature(entry, needs, radio, half, decided)
            classes.setdefault(key, []).append(entry.id)
    return [*classes.values(), *([it.id] for it in needs.decisions)]


def _signature(entry: Entry, needs: Needs, radio: Radio, half: Half, decided: set[str]) -> object:
    if half == "lines":
        lines = _lines(needs, {entry.id})
        if decided & {line.id for line in lines}:
            return entry.id
        return tuple(
            (it.servos, needs.ports_for(it), needs.receiver and it.selection is not None)
            for it in lines
        )
    jobs = _jobs(needs, {entry.id})
    names = {job.id for job in jobs} | {line.id for line in _lines(needs, {entry.id})}
    if decided & names:
        return entry.id
    return tuple(
        (_suited(job, needs, radio), job.id if len(job.entries) > 1 else None) for job in jobs
    )


def _hitting(sizes: Sequence[int], fitting: Sequence[Sequence[int]]) -> list[int] | None:
    """The fewest members, by class, that go beyond every one of the sets known to fit."""
    cp = solver.model()
    counts = [cp.new_int_var(0, size, "") for size in sizes]
    for known in fitting:
        beyond = []
        for count, most, size in zip(counts, known, sizes, strict=True):
            if most < size:
                more = cp.new_bool_var("")
                cp.add(count >= most + 1).only_enforce_if(more)
                beyond.append(more)
        cp.add_bool_or(beyond)
    cp.minimize(sum(counts))
    found = solver.solve(cp)
    return None if found is None else [found[0].value(count) for count in counts]


def _grown(
    needs: Needs,
    radio: Radio,
    half: Half,
    chosen: Collection[str],
    apart_from: Collection[str] = (),
) -> set[str] | None:
    """The most that fits together with these; None where they do not fit by themselves."""
    program = Program(needs, radio, hands=half == "hands", lines=half == "lines")
    optional = {entry.id for entry in needs.entries if entry.if_room}
    asked = {id_: var for id_, var in program.granted.items() if id_ not in optional}
    asked |= program.holds
    asked = {id_: var for id_, var in asked.items() if id_ not in apart_from}
    for id_ in chosen:
        program.cp.add(asked[id_] == 1)
    program.cp.maximize(sum(asked.values()))
    found = solver.solve(program.cp)
    if found is None:
        return None
    return {id_ for id_, var in asked.items() if found[0].boolean_value(var)}


# In words


def _told(
    needs: Needs, radio: Radio, half: Half, chosen: frozenset[str], others: frozenset[str]
) -> Contradiction:
    """`others`: wishes of other contradictions, which no remedy of this one can resolve."""
    entries = [entry for entry in needs.entries if entry.id in chosen]
    decisions = [it for it in needs.decisions if it.id in chosen]
    wishes = [Wanted(_place(entry.id), _asked(entry, needs, half)) for entry in entries]
    wishes += [Wanted(it.id, _decided(it)) for it in decisions]
    jobs, lines = _jobs(needs, chosen), _lines(needs, chosen)
    if half == "hands":
        message = _short_of_controls(jobs, needs, radio, decisions)
        tried = _more_controls(jobs, needs, radio, others)
    else:
        message = _short_of_lines(lines, needs, radio, decisions)
        tried = _more_lines(needs, radio, others)
    one = "this" if len(wishes) == 1 else "one of these"
    return Contradiction(
        needs.name,
        radio.name,
        half,
        tuple(wishes),
        message,
        (f"do without {one}", *tried),
    )


def _place(id_: str) -> str:
    return id_.partition("#")[0]


def _jobs(needs: Needs, chosen: Collection[str]) -> list[Job]:
    return [job for job in needs.jobs if set(job.entries) & set(chosen)]


def _lines(needs: Needs, chosen: Collection[str]) -> list[Line]:
    return [line for line in needs.lines if line.entry in chosen]


def _suited(job: Job, needs: Needs, radio: Radio) -> tuple[str, ...]:
    grips = radio.grips.values()
    return tuple(grip.id for grip in grips if suits(job, grip, radio, needs.receiver))


def _asked(entry: Entry, needs: Needs, half: Half) -> str:
    name = f"“{entry.text}”"
    if half == "hands":
        wants = [asks(job.kinds, job.positions, job.axis) for job in _jobs(needs, {entry.id})]
        return f"{name} asks for {any_of(wants, 'and')}"
    servos = sum(line.servos for line in _lines(needs, {entry.id}))
    ports = f" and {_count(servos, 'port')}" if servos else ""
    return f"{name} asks for a channel{ports}"


def _decided(decision: Decision) -> str:
    on = [f"on “{decision.control}”"] if decision.control is not None else []
    on += [f"on channel {decision.channel}"] if decision.channel is not None else []
    on += [f"on port {decision.port}"] if decision.port is not None else []
    return f"“{decision.what}” is to be {any_of(on, 'and')}"


def _short_of_controls(
    jobs: Sequence[Job], needs: Needs, radio: Radio, decisions: Sequence[Decision]
) -> str:
    there = dict.fromkeys(name for job in jobs for name in _suited(job, needs, radio))
    names = any_of((f"“{job.text}”" for job in jobs), "and")
    if decisions:
        told = "; ".join(map(_decided, decisions))
        return f"On “{radio.name}” {names} cannot have a control that will do, its own: {told}."
    wants = "wants a control" if len(jobs) == 1 else f"want {len(jobs)} controls of their own"
    have = f"only {_count(len(there), 'one')}: {any_of(there, 'and')}" if there else "none"
    return f"{names} {wants}; of those that will do “{radio.name}” has {have}."


def _short_of_lines(
    lines: Sequence[Line], needs: Needs, radio: Radio, decisions: Sequence[Decision]
) -> str:
    names = any_of((f"“{line.id}”" for line in lines), "and")
    want = "wants" if len(lines) == 1 else "want"
    if decisions:
        told = "; ".join(map(_decided, decisions))
        return f"There are no channels and ports for {names} like this: {told}."
    numbers = range(1, min(radio.channels, needs.inputs) + 1)
    may = [n for n in numbers if any(needs.may_have(line, n) for line in lines)]
    if len(lines) > len(may):
        limit = f"“{radio.name}” sends {radio.channels}, the receiver takes in {needs.inputs}"
        listed = needs.receiver.selector_channels if needs.receiver is not None else None
        if listed is not None and len(may) < len(numbers):
            only = any_of(map(str, sorted(listed)))
            limit += f", and lets selectors have channel {only} only"
        return f"{names} {want} {_count(len(lines), 'channel')}; {limit}."
    servos = sum(line.servos for line in lines)
    ports = dict.fromkeys(port for line in lines for port in needs.ports_for(line))
    where = f"ports {any_of(map(str, ports), 'and')}" if ports else "no port"
    return (
        f"{names} {want} {_count(servos, 'port')}, each carrying its own channel; the receiver has "
        f"{where} for them."
    )


def _count(number: int, noun: str) -> str:
    if noun == "one":
        return "one" if number == 1 else str(number)
    return f"{number} {noun}" + ("" if number == 1 else "s")


# What would resolve it


def _more_controls(
    jobs: Iterable[Job], needs: Needs, radio: Radio, others: frozenset[str]
) -> Iterator[str]:
    """The fewest controls more, of a kind that one of the jobs asks for."""
    met: set[str] = set()
    for job in jobs:
        if "stick" in job.kinds:
            continue
        positions = max(job.positions, 2)
        for kind in sorted(job.kinds):
            words = asks(frozenset((kind,)), positions)
            if words in met:
                continue
            met.add(words)
            for more in range(1, _MOST_CONTROLS):
                further = {f"+{i}": _further(f"+{i}", kind, positions) for i in range(more)}
                grown = evolve(radio, grips={**radio.grips, **further})
                if _rest_fits(needs, grown, "hands", others):
                    times = "" if more == 1 else f", {more} times"
                    yield f"take a transmitter with {words} in addition{times}"
                    break


def _further(name: str, kind: str, positions: int) -> Grip:
    if kind == "continuous":
        return Grip(name, "", Control("knob"))
    if kind == "sprung":
        return Grip(name, "", Control("button"))
    return Grip(name, "", Control("switch", tuple(map(str, range(positions)))))


def _more_lines(needs: Needs, radio: Radio, others: frozenset[str]) -> Iterator[str]:
    """The least more of channels, of inputs, of both, or of ports."""
    for more in range(1, _MOST_MORE):
        if _rest_fits(needs, evolve(radio, channels=radio.channels + more), "lines", others):
            yield f"take a transmitter with {radio.channels + more} channels"
            break
    for more in range(1, _MOST_MORE):
        if _rest_fits(evolve(needs, inputs=needs.inputs + more), radio, "lines", others):
            yield f"take a receiver that takes in {needs.inputs + more} channels"
            break
    highest = max(needs.ports, default=0)
    for more in range(1, _MOST_MORE):
        ports = {**needs.ports, **{highest + i: None for i in range(1, more + 1)}}
        if needs.ports and _rest_fits(evolve(needs, ports=ports), radio, "lines", others):
            yield f"take a receiver with {more} more free {'port' if more == 1 else 'ports'}"
            break


def _rest_fits(needs: Needs, radio: Radio, half: Half, others: frozenset[str]) -> bool:
    chosen = [entry.id for entry in needs.entries if not entry.if_room]
    chosen += [it.id for it in needs.decisions]
    return fits(needs, radio, half, [it for it in chosen if it not in others])
