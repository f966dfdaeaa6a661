"""Every optimum and every contradiction against a brute force, and matchings against libraries."""

from __future__ import annotations

from typing import Any

import networkx
import numpy
import pytest
from hypothesis import given, settings
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_bipartite_matching
from tests.plan import brute
from tests.plan.made import (
    asked,
    decisions,
    flight_mode,
    model,
    radio,
    small_wishes,
    switch,
    thirty,
    wishes,
)

from prebind.plan import plan
from prebind.plan.contradiction import contradictions, smallest_set
from prebind.plan.solve import Search, best, others
from prebind.plan.suits import suits
from prebind.plan.wishes import PREFERENCES


def only_radio(document: Any) -> Any:
    return document["transmitters"]["Reed"]


@settings(max_examples=40, deadline=None)
@given(small_wishes())
def test_no_assignment_loses_less(document: Any) -> None:
    found = asked(document)
    answer = best(found.needs, found.wishes.radios["Reed"], PREFERENCES)
    expected = brute.least_loss(document, only_radio(document), PREFERENCES)
    assert (None if answer is None else answer.total) == expected
    if answer is not None:
        assert answer.proven
        assert sum(PREFERENCES[it] * lost for it, lost in answer.losses.items()) == expected


@settings(max_examples=40, deadline=None)
@given(small_wishes(1).flatmap(decisions))
def test_a_contradiction_is_one_and_the_smallest(document: Any) -> None:
    found = asked(document)
    [needs], the_radio = found.needs, found.wishes.radios["Reed"]
    one = document["models"][0]
    told = contradictions(needs, the_radio)
    size = brute.smallest_contradiction(one, "/models/0", document, only_radio(document))
    assert (len(told[0].wishes) if told else None) == size
    for it in told:
        where = one, "/models/0", document, only_radio(document)
        members = {wish.at for wish in it.wishes}
        assert not brute.fits(*where, members, [it.half])
        for less in members:
            assert brute.fits(*where, members - {less}, [it.half])
        assert all(found.locate(wish.at).line for wish in it.wishes)


@settings(max_examples=40, deadline=None)
@given(small_wishes(1))
def test_jobs_on_controls_are_a_matching(document: Any) -> None:
    """Without wishes that may be left out, hands fit exactly where a matching covers every job.

    Against networkx, `bipartite.hopcroft_karp_matching`, and scipy, `maximum_bipartite_matching`.
    """
    for entry in document["models"][0]["functions"]:
        entry.pop("if_room", None)
    found = asked(document)
    [needs], the_radio = found.needs, found.wishes.radios["Reed"]
    grips = list(the_radio.grips.values())
    table = numpy.array(
        [[suits(job, grip, the_radio, needs.receiver) for grip in grips] for job in needs.jobs]
    ).reshape(len(needs.jobs), len(grips))
    graph = networkx.Graph()
    jobs = [("job", i) for i in range(len(needs.jobs))]
    graph.add_nodes_from(jobs)
    graph.add_edges_from((("job", i), ("grip", k)) for i, k in numpy.argwhere(table).tolist())
    matched = networkx.bipartite.hopcroft_karp_matching(graph, jobs)
    covered = sum(node in matched for node in jobs)
    assert covered == int((maximum_bipartite_matching(csr_array(table), "column") >= 0).sum())
    assert (smallest_set(needs, the_radio, "hands") is None) == (covered == len(jobs))


def test_a_shortage_is_counted_not_searched() -> None:
    """Thirteen functions on eight channels: any nine of them contradict each other."""
    many = model(*(f"x-{chr(97 + i)}" for i in range(13)), throttle_cut=False)
    many["functions"] = [{**it, "control": "continuous"} for it in many["functions"]]
    knobs = {f"k{i}": {"kind": "knob"} for i in range(13)}
    found = asked(wishes(many, radio(8, knobs), {"inputs": 16, "outputs": 16}))
    [it] = contradictions(found.needs[0], found.wishes.radios["Reed"])
    assert [wish.at for wish in it.wishes] == [f"/models/0/functions/{i}" for i in range(9)]
    assert "want 9 channels; “Reed” sends 8, the receiver takes in 16." in it.message
    assert it.remedies == ("do without one of these", "take a transmitter with 13 channels")


def torn() -> Any:
    """Two models, and a cut that is decided for one of them."""
    controls = {
        "near": switch(2, hand="right", reach="sticks-held"),
        "far": switch(2, hand="left", reach="let-go"),
        "mode": switch(3, hand="left", reach="sticks-held"),
    }
    plain = model("throttle", "elevator", "aileron", name="Knot 900", switches=[{"for": "rates"}])
    mode = flight_mode("damped", "level", "off")
    fancy = {**plain, "name": "Ruff 1100", "selectors": [mode]}
    fancy["decided"] = [{"what": "throttle cut", "control": "far"}]
    return wishes([plain, fancy], radio(8, controls))


def test_what_is_best_depends_on_the_weights() -> None:
    document = torn()
    found = asked(document)
    the_radio = found.wishes.radios["Reed"]
    usual = best(found.needs, the_radio, PREFERENCES)
    assert usual is not None
    plain, fancy = usual.assignments
    assert (plain.controls["throttle cut"], fancy.controls["throttle cut"]) == ("near", "far")
    # The cut twice out of reach (20) and the two models apart in cut and rates (10), and the
    # gentlest mode moved to an end (1).
    assert (usual.losses["cut-in-reach"], usual.losses["same-control"]) == (2, 2)
    assert usual.total == 31 == brute.least_loss(document, only_radio(document), PREFERENCES)
    alike = best(found.needs, the_radio, {**PREFERENCES, "same-control": 50})
    assert alike is not None
    assert [it.controls["throttle cut"] for it in alike.assignments] == ["far", "far"]
    assert (alike.losses["cut-in-reach"], alike.losses["same-control"]) == (4, 0)


def test_other_answers_say_what_they_trade() -> None:
    found = asked(torn())
    planned = plan(found, trades=True)
    traded = {it.put_first: (it.total, dict(it.losses)) for it in planned.trades}
    total, losses = traded["same-control"]
    assert (total, losses["cut-in-reach"], losses["same-control"]) == (41, 4, 0)
    total, losses = traded["states-as-listed"]
    assert (total, losses["states-as-listed"], losses["gentlest-at-end"]) == (34, 0, 1)
    assert "cut-in-reach" not in traded  # the other model's cut is decided: nothing to gain


@settings(max_examples=15, deadline=None)
@given(small_wishes())
def test_another_answer_gains_what_it_puts_first_and_never_loses_less_in_all(document: Any) -> None:
    found = asked(document)
    the_radio = found.wishes.radios["Reed"]
    first = best(found.needs, the_radio, PREFERENCES)
    if first is None:
        return
    for other in others(found.needs, the_radio, PREFERENCES, first):
        assert other.put_first is not None
        assert other.losses[other.put_first] < first.losses[other.put_first]
        assert other.total >= first.total


def test_of_equal_answers_the_first() -> None:
    controls = {f"c{i}": switch(2) for i in range(4)}
    document = wishes(model("throttle", "elevator", "aileron", "gear"), radio(8, controls))
    found = asked(document)
    answer = best(found.needs, found.wishes.radios["Reed"], PREFERENCES)
    assert answer is not None
    [one] = answer.assignments
    assert one.controls["gear"] == "c0"
    assert one.controls["throttle cut"] == "c1"
    assert list(one.channels.values()) == [1, 2, 3, 4]
    assert list(one.ports.values()) == [(1,), (2,), (3,), (4,)]


@pytest.mark.parametrize("weight", [0, 1])
def test_a_weight_of_nothing_leaves_a_preference_out(weight: int) -> None:
    controls = {"big": switch(3), "small": switch(2)}
    document = wishes(
        model("elevator", "aileron", "gear"),
        radio(8, controls),
        preferences={"no-waste": weight},
    )
    found = asked(document)
    answer = best(found.needs, found.wishes.radios["Reed"], found.wishes.weights)
    assert answer is not None
    assert answer.assignments[0].controls["gear"] == ("small" if weight else "big")


def test_thirty_models_and_three_transmitters() -> None:
    """Proven for all three; and where models need not agree, each loses what it loses alone."""
    found = asked(thirty())
    assert len({needs.shape for needs in found.needs}) > 25
    planned = plan(found)
    assert [it.search.proven for it in planned.servings] == [True, True, True]
    assert planned.answer is not None
    weights = {**PREFERENCES, "same-control": 0}
    for the_radio in found.wishes.radios.values():
        together = Search(found.needs, the_radio, weights).total
        alone = [Search([needs], the_radio, weights).total or 0 for needs in found.needs]
        assert together == sum(alone)
