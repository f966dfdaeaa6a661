"""Mistakes as people make them: each changes a setup in place, and says whether it fits there.

Spoilers make a text that is no setup any more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from random import Random

    Document = dict[str, Any]
    Mistake = Callable[[Random, Document], bool]
    Spoiler = Callable[[Random, bytes], bytes]

PRIMARY = ("aileron", "elevator", "rudder", "elevon", "v-tail")


def _one(chance: Random, entries: Iterable[Any]) -> Any:
    """One of them, None if there is none."""
    found = list(entries)
    return chance.choice(found) if found else None


def _failsafe(setup: Document) -> list[Any]:
    found: list[Any] = setup["receiver"].get("failsafe", {}).get("channels", [])
    return found


def _throttle(setup: Document) -> int | None:
    return next(
        (it["channel"] for it in setup["channels"] if it["function"] == "throttle"),
        None,
    )


def _selectors(setup: Document) -> list[Any]:
    found: list[Any] = setup["receiver"].get("stabiliser", {}).get("selectors", [])
    return found


# At the radio


def reversed_at_the_radio(chance: Random, setup: Document) -> bool:
    channel = _one(chance, (it for it in setup["channels"] if it["function"] in PRIMARY))
    if channel is None:
        return False
    channel["reversed"] = not channel.get("reversed", False)
    return True


def reversed_throttle(_: Random, setup: Document) -> bool:
    for channel in setup["channels"]:
        if channel["function"] == "throttle":
            channel["reversed"] = not channel.get("reversed", False)
            return True
    return False


def centred_by_subtrim(chance: Random, setup: Document) -> bool:
    channel = _one(chance, (it for it in setup["channels"] if it["function"] in PRIMARY))
    if channel is None:
        return False
    channel["subtrim_percent"] = chance.choice([-30, -12, 8, 15, 40])
    return True


def travel_opened_wide(chance: Random, setup: Document) -> bool:
    channel = chance.choice(setup["channels"])
    channel["travel_percent"] = {"low": chance.choice([100, 150]), "high": 150}
    return True


def travel_left_small(chance: Random, setup: Document) -> bool:
    channel = chance.choice(setup["channels"])
    channel["travel_percent"] = {"low": 30, "high": chance.choice([30, 60])}
    return True


def expo_of_the_wrong_sign(chance: Random, setup: Document) -> bool:
    shaped = (*setup["channels"], *setup.get("inputs", ()))
    rate = _one(chance, (rate for it in shaped for rate in it.get("rates", ())))
    if rate is None:
        return False
    rate["expo_percent"] = -abs(rate.get("expo_percent", 30))
    return True


def rate_of_nothing(chance: Random, setup: Document) -> bool:
    rated = [it for it in setup["channels"] if it.get("rates")]
    if not rated:
        return False
    chance.choice(rated)["rates"][-1]["rate_percent"] = 0
    return True


def rate_forgotten(chance: Random, setup: Document) -> bool:
    rated = [it for it in setup["channels"] if len(it.get("rates", ())) > 1]
    if not rated:
        return False
    chance.choice(rated)["rates"].pop()
    return True


def throttle_trim_wide(_: Random, setup: Document) -> bool:
    for channel in setup["channels"]:
        if channel["function"] == "throttle":
            channel["trim_range_percent"] = 25
            return True
    return False


def mix_backwards(chance: Random, setup: Document) -> bool:
    mix = _one(chance, setup.get("mixes", ()))
    if mix is None:
        return False
    rate = mix["rate_percent"]
    mix["rate_percent"] = {"low": -rate["low"], "high": -rate["high"]}
    return True


def mix_twice(chance: Random, setup: Document) -> bool:
    mix = _one(chance, setup.get("mixes", ()))
    if mix is None:
        return False
    setup["mixes"].append({**mix, "name": f"{mix['name']} again"})
    return True


def switch_shared(chance: Random, setup: Document) -> bool:
    switched = [it for it in setup["channels"] if "switch" in it.get("control", "")]
    others = [it for it in setup["channels"] if it not in switched and "control" in it]
    if not switched or not others:
        return False
    chance.choice(switched)["control"] = chance.choice(others)["control"]
    return True


def name_misspelt(chance: Random, setup: Document) -> bool:
    channel = _one(chance, (it for it in setup["channels"] if len(it.get("control", "")) > 3))
    if channel is None:
        return False
    name = channel["control"]
    channel["control"] = f"{name[:2]}{name[3:]}"
    return True


def channel_twice(chance: Random, setup: Document) -> bool:
    first, second = chance.sample(setup["channels"], 2)
    second["channel"] = first["channel"]
    return True


def channel_forgotten(chance: Random, setup: Document) -> bool:
    setup["channels"].remove(chance.choice(setup["channels"]))
    return True


def position_exchanged(chance: Random, setup: Document) -> bool:
    control = _one(
        chance,
        (it for it in setup["transmitter"].get("controls", {}).values() if "positions" in it),
    )
    if control is None:
        return False
    control["positions"] = control["positions"][::-1]
    return True


# Throttle cut


def no_throttle_cut(_: Random, setup: Document) -> bool:
    if not setup.get("overrides"):
        return False
    setup["overrides"] = []
    return True


def cut_that_idles(chance: Random, setup: Document) -> bool:
    override = _one(chance, setup.get("overrides", ()))
    if override is None:
        return False
    override["demand_percent"] = chance.choice([-70, -40, 0])
    return True


def cut_that_lets_go(chance: Random, setup: Document) -> bool:
    override = _one(chance, (it for it in setup.get("overrides", ()) if "release" in it))
    if override is None:
        return False
    del override["release"]
    return True


def no_start_checks(_: Random, setup: Document) -> bool:
    return setup["transmitter"].pop("start_checks", None) is not None


# At the receiver


def reversed_at_the_receiver(chance: Random, setup: Document) -> bool:
    output = chance.choice(setup["receiver"]["outputs"])
    output["reversed"] = not output.get("reversed", False)
    return True


def port_twice(chance: Random, setup: Document) -> bool:
    first, second = chance.sample(setup["receiver"]["outputs"], 2)
    second["port"] = first["port"]
    return True


def no_failsafe(_: Random, setup: Document) -> bool:
    return setup["receiver"].pop("failsafe", None) is not None


def failsafe_holds_the_throttle(_: Random, setup: Document) -> bool:
    number = _throttle(setup)
    for entry in _failsafe(setup):
        if entry["channel"] == number:
            entry["action"] = "hold"
            entry.pop("output_percent", None)
            return True
    return False


def failsafe_for_one_forgotten(chance: Random, setup: Document) -> bool:
    entries = _failsafe(setup)
    if not entries:
        return False
    entries.remove(chance.choice(entries))
    return True


def failsafe_hard_over(chance: Random, setup: Document) -> bool:
    entry = _one(chance, (it for it in _failsafe(setup) if it.get("output_percent") == 0))
    if entry is None:
        return False
    entry["output_percent"] = 100
    return True


def failsafe_slow(_: Random, setup: Document) -> bool:
    if not _failsafe(setup):
        return False
    setup["receiver"]["failsafe"]["delay_s"] = 3
    return True


def failsafe_in_another_state(chance: Random, setup: Document) -> bool:
    numbers = {selector["channel"] for selector in _selectors(setup)}
    entry = _one(chance, (it for it in _failsafe(setup) if it["channel"] in numbers))
    if entry is None or "output_percent" not in entry:
        return False
    entry["output_percent"] = -entry["output_percent"]
    return True


def sense_reversed(chance: Random, setup: Document) -> bool:
    axes = setup["receiver"].get("stabiliser", {}).get("axes", ())
    axis = _one(chance, axes)
    if axis is None:
        return False
    axis["sense"] = "reversed" if axis["sense"] == "normal" else "normal"
    return True


def _bands(chance: Random, setup: Document) -> list[Any] | None:
    """The ends of two bands that meet."""
    selector = _one(chance, (it for it in _selectors(setup) if len(it["states"]) > 1))
    if selector is None:
        return None
    at = chance.randrange(len(selector["states"]) - 1)
    return [next(iter(it["band"].values())) for it in selector["states"][at : at + 2]]


def gap_between_bands(chance: Random, setup: Document) -> bool:
    bands = _bands(chance, setup)
    if bands is None:
        return False
    bands[1][0] += (bands[1][1] - bands[1][0]) // 4
    return True


def bands_that_overlap(chance: Random, setup: Document) -> bool:
    bands = _bands(chance, setup)
    if bands is None:
        return False
    bands[0][1] += (bands[1][1] - bands[1][0]) // 4
    return True


def states_exchanged(chance: Random, setup: Document) -> bool:
    selector = _one(chance, (it for it in _selectors(setup) if len(it["states"]) > 1))
    if selector is None:
        return False
    first, *_, last = selector["states"]
    first["band"], last["band"] = last["band"], first["band"]
    return True


# On the model


def servo_the_other_way_up(chance: Random, setup: Document) -> bool:
    opposite = {
        "trailing-edge-up": "trailing-edge-down",
        "trailing-edge-down": "trailing-edge-up",
        "trailing-edge-left": "trailing-edge-right",
        "trailing-edge-right": "trailing-edge-left",
    }
    servo = _one(
        chance, (it for it in setup.get("servos", ()) if it.get("increasing_pulse") in opposite)
    )
    if servo is None:
        return False
    servo["increasing_pulse"] = opposite[servo["increasing_pulse"]]
    return True


def _servo(chance: Random, setup: Document, **changes: Any) -> bool:
    servo = _one(chance, setup.get("servos", ()))
    if servo is None:
        return False
    servo.update(changes)
    return True


def analogue_servo_on_a_fast_frame(chance: Random, setup: Document) -> bool:
    return _servo(chance, setup, kind="analogue", max_rate_hz=50)


def servo_of_another_centre(chance: Random, setup: Document) -> bool:
    return _servo(chance, setup, centre_us=1520)


def servo_too_weak(chance: Random, setup: Document) -> bool:
    return _servo(chance, setup, torque_ncm=2)


def servo_not_written_down(chance: Random, setup: Document) -> bool:
    servo = _one(chance, setup.get("servos", ())) or {}
    known = [servo.pop(key, None) for key in ("linkage", "degrees_per_us", "increasing_pulse")]
    return any(known)


def long_arm(chance: Random, setup: Document) -> bool:
    servo = _one(chance, (it for it in setup.get("servos", ()) if "linkage" in it))
    if servo is None:
        return False
    servo["linkage"]["arm_mm"] = round(servo["linkage"]["horn_mm"] * 1.5)
    return True


def motor_stops_late(chance: Random, setup: Document) -> bool:
    control = _one(chance, setup.get("speed_controls", ()))
    if control is None:
        return False
    control["stop_below_us"] = control["arm_below_us"] = chance.choice([1080, 1105, 1110])
    return True


def cell_too_many(_: Random, setup: Document) -> bool:
    pack = setup.get("power", {}).get("flight_pack", {})
    if "cells" not in pack:
        return False
    pack["cells"] += 2
    return True


def supply_too_weak(_: Random, setup: Document) -> bool:
    supply = setup.get("power", {}).get("receiver_supply")
    if supply is None:
        return False
    supply.update(continuous_a=0.8, peak_a=1.5)
    return True


def alarm_too_late(_: Random, setup: Document) -> bool:
    pack = setup.get("power", {}).get("flight_pack", {})
    if "warning_v_per_cell" not in pack:
        return False
    pack["warning_v_per_cell"] = 3.1
    return True


def power_not_written_down(_: Random, setup: Document) -> bool:
    return setup.pop("power", None) is not None


def waiver_out_of_date(_: Random, setup: Document) -> bool:
    setup["waivers"] = [
        {
            "rule": "power/alarm",
            "reason": "the pilot counts the minutes",
            "by": "A. Builder",
            "until": "2024-05-01",
        }
    ]
    return True


MISTAKES: list[Mistake] = [
    reversed_at_the_radio,
    reversed_throttle,
    centred_by_subtrim,
    travel_opened_wide,
    travel_left_small,
    expo_of_the_wrong_sign,
    rate_of_nothing,
    rate_forgotten,
    throttle_trim_wide,
    mix_backwards,
    mix_twice,
    switch_shared,
    name_misspelt,
    channel_twice,
    channel_forgotten,
    position_exchanged,
    no_throttle_cut,
    cut_that_idles,
    cut_that_lets_go,
    no_start_checks,
    reversed_at_the_receiver,
    port_twice,
    no_failsafe,
    failsafe_holds_the_throttle,
    failsafe_for_one_forgotten,
    failsafe_hard_over,
    failsafe_slow,
    failsafe_in_another_state,
    sense_reversed,
    gap_between_bands,
    bands_that_overlap,
    states_exchanged,
    servo_the_other_way_up,
    analogue_servo_on_a_fast_frame,
    servo_of_another_centre,
    servo_too_weak,
    servo_not_written_down,
    long_arm,
    motor_stops_late,
    cell_too_many,
    supply_too_weak,
    alarm_too_late,
    power_not_written_down,
    waiver_out_of_date,
]


# Texts that are no setup


def cut_short(chance: Random, data: bytes) -> bytes:
    return data[: chance.randrange(len(data) // 2, len(data) - 3)]


def comma_too_many(_: Random, data: bytes) -> bytes:
    head, _, tail = data.rpartition(b"}")
    return head.rstrip() + b",}" + tail


def key_twice(_: Random, data: bytes) -> bytes:
    return data.replace(b"{", b'{"region": "eu", "region": "us", ', 1)


def number_as_text(_: Random, data: bytes) -> bytes:
    return data.replace(b'"mass_g": ', b'"mass_g": "", "x-mass": ', 1)


def key_of_another_program(_: Random, data: bytes) -> bytes:
    return data.replace(b'"receiver"', b'"reciever"', 1)


def another_encoding(_: Random, data: bytes) -> bytes:
    return data.replace(b"Invented", b"Invent\xe9", 1)


SPOILERS: list[Spoiler] = [
    cut_short,
    comma_too_many,
    key_twice,
    number_as_text,
    key_of_another_program,
    another_encoding,
]
