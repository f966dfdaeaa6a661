"""What is preferred: how much a choice loses in each preference."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.plan.needs import CUT, FLIGHT_MODE, RECOVERY

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from prebind.plan.needs import Job, Needs, Selection
    from prebind.plan.wishes import Radio

Order = tuple[str, ...]

GENTLEST_FIRST = (
    "recovery",
    "self-level",
    "attitude-limit",
    "heading-hold",
    "rate-damping",
    "off",
)
"""Behaviours, the most protective first: as in the rule `bands/gentlest-not-at-end`."""


def on_control(
    job: Job, control: str, needs: Needs, radio: Radio, usual: Mapping[str, str]
) -> Iterator[tuple[str, int]]:
    """What a job loses on this control, whatever the others do.

    `usual`: role → the fleet's control for it, where that counts.
    """
    if "stick" in job.kinds:
        return
    grip = radio.grips[control]
    if job.role == CUT:
        hand = radio.throttle_hand
        missed = (hand is not None and grip.hand == hand) + (grip.sticks_held is False)
        if missed:
            yield "cut-in-reach", missed
    if job.role == RECOVERY and grip.sticks_held is False:
        yield "recovery-in-reach", 1
    if "switch" in job.kinds and len(grip.positions) > job.positions:
        yield "no-waste", len(grip.positions) - job.positions
    if needs.control_today(job) in radio.grips and control != needs.control_today(job):
        yield "few-changes", 1
    if job.role in usual and usual[job.role] != control:
        yield "same-control", 1


def orders(selection: Selection, today: Order | None) -> Iterable[Order]:
    """The ways round that come into question, the listed one first."""
    listed = tuple(state.state for state in selection.states)
    if selection.fixed or selection.purpose == RECOVERY:
        return [listed]
    found = [listed]
    for state in listed:
        if state in gentlest(selection):
            others = tuple(other for other in listed if other != state)
            found += [(state, *others), (*others, state)]
    if today is not None:
        found.append(today)
    return dict.fromkeys(found)


def with_order(selection: Selection, order: Order, today: Order | None) -> Iterator[str]:
    """The preferences that lose one with this order."""
    best = gentlest(selection)
    if best and not {order[0], order[-1]} & best:
        yield "gentlest-at-end"
    if order != tuple(state.state for state in selection.states):
        yield "states-as-listed"
    if today is not None and order != today:
        yield "few-changes"


def gentlest(selection: Selection) -> set[str]:
    """The most protective states of a flight mode; none where the receiver fixes the bands."""
    if selection.purpose != FLIGHT_MODE or selection.fixed:
        return set()
    ranks = {
        state.state: GENTLEST_FIRST.index(state.behaviour)
        for state in selection.states
        if state.behaviour in GENTLEST_FIRST
    }
    return {state for state, rank in ranks.items() if rank == min(ranks.values())}
