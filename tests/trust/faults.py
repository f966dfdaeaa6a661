"""A catalogue of mistakes that builders make, by family: common practice, no source.

Each function makes one in the clean document that it is given.  What it says of rules follows from
the rulebook's text alone, not from what the rules do.
"""

from __future__ import annotations

from tests.trust.laying import (
    PRIMARY,
    Document,
    Entry,
    at_failsafe,
    axes,
    axis_ports,
    band,
    channels,
    control_of,
    cut,
    cut_condition,
    electric,
    failsafe,
    fault,
    first,
    free_switch,
    in_unit,
    low_end_us,
    mixing,
    motors,
    needs_switch,
    numbered,
    output,
    pack,
    plain_channel,
    positions,
    scale,
    selector,
    sent,
    servos,
    shaped,
    stabilised,
    stabiliser,
    state_at,
    steered,
    supply,
    surface,
    throttle,
    throttle_travel,
    toggle,
    turn,
    unfit,
    values,
)

# --- directions -----------------------------------------------------------------------------

MIRRORED = ("reversal/correction-backwards", "reversal/command-backwards")


def _turn(servo: Entry) -> None:
    servo["increasing_pulse"] = turn(servo["increasing_pulse"])


@fault("reversal/correction-backwards", quiet=("reversal/stabilised-axis",))
def servo_behind_stabiliser_plugged_the_other_way_round(doc: Document) -> None:
    _turn(first(steered(doc, by_stabiliser=True)))


@fault("reversal/command-backwards", quiet=("reversal/correction-backwards",))
def plain_servo_replaced_by_one_that_turns_the_other_way(doc: Document) -> None:
    _turn(first(steered(doc, by_stabiliser=False)))


@fault(
    "reversal/stabilised-axis",
    "reversal/command-backwards",
    quiet=("reversal/correction-backwards",),
)
def stabilised_axis_reversed_at_transmitter(doc: Document) -> None:
    toggle(numbered(doc, first(axes(doc))["channel"]))


@fault("reversal/command-backwards", quiet=("reversal/stabilised-axis",))
def plain_surface_reversed_at_transmitter(doc: Document) -> None:
    free = [c for c in channels(doc, *PRIMARY) if c["channel"] not in stabilised(doc)]
    toggle(first(free))


@fault("reversal/correction-backwards", quiet=("reversal/stabilised-axis",))
def receiver_output_reversed_behind_stabiliser(doc: Document) -> None:
    toggle(output(doc, first(steered(doc, by_stabiliser=True))["port"]))


@fault("reversal/command-backwards", quiet=("reversal/correction-backwards",))
def receiver_output_reversed_without_stabiliser(doc: Document) -> None:
    toggle(output(doc, first(steered(doc, by_stabiliser=False))["port"]))


@fault(
    "reversal/correction-backwards",
    quiet=("reversal/stabilised-axis", "reversal/command-backwards", "reversal/twice"),
)
def axis_sense_wrong(doc: Document) -> None:
    axis = first(axes(doc))
    axis["sense"] = "normal" if axis["sense"] == "reversed" else "reversed"


@fault(
    "reversal/correction-backwards",
    "reversal/stabilised-axis",
    quiet=("reversal/command-backwards",),
)
def servo_the_other_way_mended_at_transmitter(doc: Document) -> None:
    axis = _lone_axis(doc)
    for servo in doc["servos"]:
        if servo["port"] in axis_ports(axis):
            _turn(servo)
    toggle(numbered(doc, axis["channel"]))


def _lone_axis(doc: Document, straight: bool = False) -> Entry:
    """An axis that shares none of its ports with another; `straight`: nothing reversed behind."""
    if mixing(doc) != "none":
        unfit("axes share ports")
    known = {s["port"] for s in steered(doc, by_stabiliser=True)}
    if straight:
        known -= {o["port"] for o in doc["receiver"]["outputs"] if o.get("reversed")}
    found: Entry = first(a for a in axes(doc) if set(axis_ports(a)) <= known)
    return found


@fault("reversal/twice", "reversal/correction-backwards", "reversal/stabilised-axis")
def reversed_at_transmitter_and_again_at_receiver(doc: Document) -> None:
    axis = _lone_axis(doc, straight=True)
    toggle(numbered(doc, axis["channel"]))
    for port in axis_ports(axis):
        toggle(output(doc, port))


@fault("reversal/twice", quiet=MIRRORED)
def plain_path_reversed_twice(doc: Document) -> None:
    channel = plain_channel(doc)
    own = [o for o in doc["receiver"]["outputs"] if o["channel"] == channel["channel"]]
    native = doc["transmitter"].get("output", {}).get("native", {})
    straight = not channel.get("reversed") and native.get(channel["function"], 1) == 1
    if not straight or any(o.get("reversed") for o in own):
        unfit("something is reversed already")
    toggle(channel)
    for each in own:
        toggle(each)


@fault("reversal/ports-disagree")
def one_of_two_servos_on_an_axis_mounted_upside_down(doc: Document) -> None:
    known = {s["port"] for s in servos(doc, *PRIMARY)}
    axis = first(a for a in axes(doc) if len(known & set(axis_ports(a))) > 1)
    _turn(first(s for s in steered(doc, by_stabiliser=True) if s["port"] in axis_ports(axis)))


@fault("reversal/correction-backwards", "reversal/ports-disagree")
def sign_of_one_elevon_copied_from_the_other(doc: Document) -> None:
    signed = (a for a in axes(doc) if any(isinstance(p, dict) for p in a["ports"]))
    axis = first(a for a in signed if {p["sign"] for p in a["ports"]} == {1, -1})
    for port in axis["ports"]:
        port["sign"] = 1


@fault("reversal/stabilised-axis", quiet=("reversal/correction-backwards",))
def new_radio_sends_a_function_the_other_way_round(doc: Document) -> None:
    function = numbered(doc, first(axes(doc))["channel"])["function"]
    native = doc["transmitter"].setdefault("output", {}).setdefault("native", {})
    native[function] = -native.get(function, 1)


@fault("reversal/throttle", quiet=("reversal/command-backwards",))
def throttle_reversed(doc: Document) -> None:
    for channel in channels(doc, "throttle") or unfit("no motor"):
        toggle(channel)


@fault("reversal/stabilised-axis", quiet=("reversal/correction-backwards",))
def stabiliser_expects_the_other_direction(doc: Document) -> None:
    axis = first(axes(doc))["axis"]
    expected = stabiliser(doc).setdefault("expects", {}).setdefault(axis, {})
    expected["direction"] = -expected.get("direction", 1)


# --- travel ---------------------------------------------------------------------------------


@fault("travel/stabilised-axis", quiet=("travel/stabilised-axis-centre",))
def travel_of_a_stabilised_axis_halved(doc: Document) -> None:
    numbered(doc, first(axes(doc))["channel"])["travel_percent"] = {"low": 50, "high": 50}


@fault("travel/stabilised-axis", quiet=("travel/stabilised-axis-centre",))
def travel_of_a_stabilised_axis_turned_up_one_side(doc: Document) -> None:
    numbered(doc, first(axes(doc))["channel"])["travel_percent"] = {"low": 100, "high": 125}


@fault("travel/stabilised-axis-centre")
def stabilised_axis_centred_by_subtrim(doc: Document) -> None:
    numbered(doc, first(axes(doc))["channel"])["subtrim_percent"] = 12


@fault("travel/stabilised-axis-centre")
def trim_left_in_on_a_stabilised_axis(doc: Document) -> None:
    numbered(doc, first(axes(doc))["channel"])["trim_percent"] = 9


@fault("travel/subtrim-large", quiet=("travel/stabilised-axis-centre",))
def subtrim_in_place_of_the_next_spline(doc: Document) -> None:
    free = [c for c in channels(doc, *PRIMARY) if c["channel"] not in stabilised(doc)]
    first(free)["subtrim_percent"] = 30


@fault("travel/little-authority")
def travel_of_a_plain_surface_left_at_a_quarter(doc: Document) -> None:
    free = [c for c in channels(doc, *PRIMARY) if c["channel"] not in stabilised(doc)]
    function = first(free)["function"]
    for channel in [c for c in free if c["function"] == function]:
        channel["travel_percent"] = {"low": 20, "high": 20}


@fault("travel/clipped")
def rate_turned_up_beyond_the_limit(doc: Document) -> None:
    _, _, limit = scale(doc)
    own = [c for c in channels(doc, *PRIMARY) if "control" in c]
    channel = first(own)
    entry = shaped(doc, channel["function"])
    if "curves" in entry:
        unfit("a curve")
    entry["rates"] = [{"rate_percent": limit + 30}]
    if {"low", "high"} & {k for k, v in channel.get("travel_percent", {}).items() if v < 95}:
        unfit("travel brings it back")


@fault("travel/servo-range")
def servo_that_takes_a_narrower_pulse(doc: Document) -> None:
    servo = first(servos(doc, *PRIMARY))
    centre = output(doc, servo["port"]).get("centre_us", scale(doc)[0])
    servo["pulse_us"] = [centre - 120, centre + 120]


@fault("travel/pair-unequal")
def one_aileron_with_half_the_travel(doc: Document) -> None:
    pair = servos(doc, "aileron", "elevon", "flaperon")
    if len({s["port"] for s in pair}) < 2:
        unfit("no pair")
    if any(surface(doc, s).get("on_purpose") for s in pair):
        unfit("meant to differ")
    output(doc, pair[0]["port"])["travel_percent"] = {"low": 50, "high": 50}


@fault("travel/differential-backwards", quiet=("travel/pair-unequal",))
def differential_the_wrong_way_round(doc: Document) -> None:
    pair = servos(doc, "aileron")
    if len({s["port"] for s in pair}) < 2:
        unfit("no pair")
    for servo in pair:
        up = "high" if servo["increasing_pulse"] == "trailing-edge-up" else "low"
        less = {"low": 100, "high": 100, up: 55}
        output(doc, servo["port"])["travel_percent"] = less


@fault("travel/linkage-locks")
def arm_too_long_for_its_horn(doc: Document) -> None:
    linked = [s for s in servos(doc, *PRIMARY) if "linkage" in s and "degrees_per_us" in s]
    linkage = first(linked)["linkage"]
    linkage["arm_mm"], linkage["horn_mm"] = 30, 6


@fault("travel/throw", quiet=("travel/linkage-locks",))
def pushrod_in_the_outer_hole_of_the_horn(doc: Document) -> None:
    linked = [s for s in servos(doc, *PRIMARY) if "linkage" in s and "degrees_per_us" in s]
    first(s for s in linked if "throw_deg" in surface(doc, s))["linkage"]["horn_mm"] *= 2


@fault("travel/slow-primary")
def elevator_slowed_with_the_flaps(doc: Document) -> None:
    first(channels(doc, *PRIMARY))["slow_s"] = 1.5


@fault("travel/throttle-range", quiet=("throttle/low-runs", "reversal/throttle"))
def throttle_never_reaches_full(doc: Document) -> None:
    motors(doc)
    throttle_travel(doc, "high", 70)


@fault("travel/little-authority", quiet=("rates/dead",))
def only_rate_left_at_a_tenth(doc: Document) -> None:
    shaped(doc, *PRIMARY)["rates"] = [{"rate_percent": 10}]


# --- rates ----------------------------------------------------------------------------------


@fault("rates/sharper-centre")
def expo_of_the_wrong_sign(doc: Document) -> None:
    entry = shaped(doc, *PRIMARY, "cyclic-roll")
    if "curves" in entry:
        unfit("a curve")
    entry["rates"] = [{"rate_percent": 100, "expo_percent": -35}]


@fault("rates/none-holds")
def rate_for_one_position_of_a_switch_forgotten(doc: Document) -> None:
    switch = free_switch(doc)
    entry = shaped(doc, *PRIMARY, "cyclic-roll")
    if "curves" in entry:
        unfit("a curve")
    entry["rates"] = [{"rate_percent": 90, "when": [{"control": switch, "positions": ["on"]}]}]


@fault("rates/dead")
def second_rate_left_at_nought(doc: Document) -> None:
    switch = free_switch(doc)
    entry = shaped(doc, "elevator", "rudder")
    entry["rates"] = [
        {"rate_percent": 100, "when": [{"control": switch, "positions": ["off"]}]},
        {"rate_percent": 0},
    ]


@fault("conflicts/wrong-surface")
def elevator_and_rudder_channels_swapped_at_receiver(doc: Document) -> None:
    """The radio's channel order is not the receiver's: each servo gets the other's channel."""
    if mixing(doc) != "none":
        unfit("the receiver mixes")
    pair = [first(channels(doc, f))["channel"] for f in ("elevator", "rudder")]
    other = dict(zip(pair, reversed(pair), strict=True))
    for each in doc["receiver"]["outputs"]:
        each["channel"] = other.get(each["channel"], each["channel"])


# --- failsafe -------------------------------------------------------------------------------


@fault("failsafe/motor-runs", quiet=("failsafe/throttle-holds",))
def failsafe_stored_with_the_throttle_up(doc: Document) -> None:
    way = -1 if throttle(doc).get("reversed") else 1
    at_failsafe(doc, throttle(doc)["channel"]).update(action="preset", output_percent=60 * way)


@fault("failsafe/throttle-holds", quiet=("failsafe/missing",))
def throttle_holds_at_failsafe(doc: Document) -> None:
    _only(at_failsafe(doc, throttle(doc)["channel"]), "hold")


@fault("failsafe/throttle-holds", quiet=("failsafe/missing",))
def no_pulses_to_a_speed_control_that_holds(doc: Document) -> None:
    for each in motors(doc):
        each["on_signal_loss"] = "holds"
    _only(at_failsafe(doc, throttle(doc)["channel"]), "no-pulses")


@fault("failsafe/missing")
def failsafe_without_the_throttle(doc: Document) -> None:
    failsafe(doc)["channels"].remove(at_failsafe(doc, throttle(doc)["channel"]))


@fault("failsafe/missing")
def failsafe_without_the_flight_mode(doc: Document) -> None:
    failsafe(doc)["channels"].remove(at_failsafe(doc, selector(doc)["channel"]))


@fault("failsafe/missing")
def failsafe_without_a_primary_surface(doc: Document) -> None:
    channel = first(channels(doc, *PRIMARY))
    failsafe(doc)["channels"].remove(at_failsafe(doc, channel["channel"]))


@fault("failsafe/state")
def failsafe_stored_in_another_mode(doc: Document) -> None:
    wanted = failsafe(doc).get("intended_states", {}).get(selector(doc)["name"])
    others = [v for v in sent(doc) if state_at(doc, v)["state"] != wanted]
    entry = at_failsafe(doc, selector(doc)["channel"])
    entry.update(action="preset", output_percent=first(others))


@fault("failsafe/state")
def failsafe_stored_with_the_recovery_button_pressed(doc: Document) -> None:
    pressed = sent(doc, "recovery")[-1]
    entry = at_failsafe(doc, selector(doc, "recovery")["channel"])
    entry.update(action="preset", output_percent=pressed)


@fault("failsafe/state")
def flight_mode_holds_at_failsafe(doc: Document) -> None:
    _only(at_failsafe(doc, selector(doc)["channel"]), "hold")


def _only(entry: Entry, action: str) -> None:
    for key in entry.keys() - {"channel"}:
        del entry[key]
    entry["action"] = action


@fault("failsafe/hard-over", quiet=("failsafe/surface-limp",))
def failsafe_stored_with_a_stick_held_over(doc: Document) -> None:
    channel = first(channels(doc, "elevator", "rudder", "elevon", "v-tail"))
    entry = at_failsafe(doc, channel["channel"])
    entry.pop("on_purpose", None)
    entry.update(action="preset", output_percent=90)


@fault("failsafe/surface-limp", quiet=("failsafe/hard-over",))
def no_pulses_to_a_surface_at_failsafe(doc: Document) -> None:
    _only(at_failsafe(doc, first(channels(doc, *PRIMARY))["channel"]), "no-pulses")


@fault("failsafe/configuration-jumps")
def flaps_or_gear_move_at_failsafe(doc: Document) -> None:
    moved = first(channels(doc, "flap", "gear"))
    if control_of(doc, moved)["kind"] != "switch":
        unfit("any value is a position")
    at_failsafe(doc, moved["channel"]).update(action="preset", output_percent=47)


@fault("failsafe/slow")
def failsafe_after_four_seconds(doc: Document) -> None:
    failsafe(doc)["delay_s"] = 4


@fault("failsafe/stale")
def throttle_moved_after_failsafe_was_stored(doc: Document) -> None:
    if failsafe(doc)["stored"] != "at-bind":
        unfit("not stored at bind")
    first(s for s in doc.get("sign_offs", []) if s["check"] == "failsafe")
    throttle(doc)["subtrim_percent"] = throttle(doc).get("subtrim_percent", 0) - 2


# --- conflicts ------------------------------------------------------------------------------


@fault("conflicts/control-shared")
def throttle_cut_on_the_mode_switch(doc: Document) -> None:
    channel = numbered(doc, selector(doc)["channel"])
    control = needs_switch(channel, doc)
    cut(doc)["when"] = [{"control": channel["control"], "positions": positions(control)[:1]}]


@fault("conflicts/control-shared")
def rates_on_the_mode_switch(doc: Document) -> None:
    channel = numbered(doc, selector(doc)["channel"])
    control = needs_switch(channel, doc)
    entry = shaped(doc, *PRIMARY, "cyclic-roll")
    if "curves" in entry:
        unfit("a curve")
    control.pop("on_purpose", None)
    there = {"control": channel["control"], "positions": positions(control)[:1]}
    entry["rates"] = [{"rate_percent": 90, "when": [there]}, {"rate_percent": 80}]


@fault("conflicts/channel-shared", quiet=("conflicts/function-twice",))
def two_entries_for_one_channel(doc: Document) -> None:
    doc["channels"].append(
        {
            "channel": doc["channels"][-1]["channel"],
            "function": "lights",
            "control": free_switch(doc),
        }
    )


@fault("conflicts/port-shared")
def two_servos_plugged_into_one_port(doc: Document) -> None:
    found = [s for s in doc.get("servos", []) if not s.get("y_lead")]
    if len(found) < 2:
        unfit("one servo")
    found[1]["port"] = found[0]["port"]


@fault("conflicts/selector-moves-servo")
def servo_plugged_into_the_mode_channel(doc: Document) -> None:
    servo = first(doc.get("servos", []))
    output(doc, servo["port"])["channel"] = selector(doc)["channel"]


@fault("conflicts/beyond-transmitter")
def moved_to_a_radio_with_fewer_channels(doc: Document) -> None:
    doc["transmitter"]["channels"] = _highest_used(doc) - 1


def _highest_used(doc: Document) -> int:
    stab = doc["receiver"].get("stabiliser") or {}
    users = [*doc["receiver"]["outputs"], *stab.get("axes", []), *stab.get("selectors", [])]
    return int(max(user["channel"] for user in users))


@fault("conflicts/beyond-receiver")
def receiver_with_fewer_inputs(doc: Document) -> None:
    doc["receiver"]["inputs"] = _highest_used(doc) - 1


@fault("conflicts/unknown-name")
def control_renamed_but_not_in_its_channel(doc: Document) -> None:
    channel = first(
        c for c in doc["channels"] if c.get("control") in doc["transmitter"]["controls"]
    )
    channel["control"] += "-old"


@fault("conflicts/unknown-name")
def position_of_the_cut_renamed(doc: Document) -> None:
    cut_condition(doc)["positions"] = ["engine-off"]


@fault("conflicts/unknown-name")
def surface_of_a_servo_renamed(doc: Document) -> None:
    first(s for s in doc.get("servos", []) if "surface" in s)["surface"] += "-2"


@fault("conflicts/unknown-name")
def output_copied_from_another_memory(doc: Document) -> None:
    doc["receiver"]["outputs"][-1]["channel"] = 1 + max(c["channel"] for c in doc["channels"])


@fault("conflicts/kind", quiet=("bands/recovery-at-rest",))
def recovery_on_a_switch_that_stays(doc: Document) -> None:
    channel = numbered(doc, selector(doc, "recovery")["channel"])
    given = values(control_of(doc, channel))
    new = {"kind": "switch", "positions": ["off", "on"], "values": [given[0], given[-1]]}
    doc["transmitter"]["controls"][channel["control"]] = new


@fault("conflicts/kind")
def flight_mode_on_a_button(doc: Document) -> None:
    channel = numbered(doc, selector(doc)["channel"])
    doc["transmitter"]["controls"]["side-button"] = {"kind": "button"}
    channel["control"] = "side-button"


@fault("conflicts/kind")
def flight_mode_on_a_slider(doc: Document) -> None:
    doc["transmitter"]["controls"]["side-slider"] = {"kind": "slider"}
    numbered(doc, selector(doc)["channel"])["control"] = "side-slider"


@fault("conflicts/function-missing")
def elevator_channel_deleted(doc: Document) -> None:
    if channels(doc, "elevon", "v-tail"):
        unfit("pitch by other surfaces too")
    doc["channels"].remove(first(channels(doc, "elevator", "cyclic-pitch")))


@fault("conflicts/unused", quiet=("conflicts/function-twice",))
def channel_left_from_a_copied_memory(doc: Document) -> None:
    number = 1 + max(c["channel"] for c in doc["channels"])
    doc["transmitter"]["channels"] = max(number + 2, doc["transmitter"]["channels"])
    doc["channels"].append(
        {"channel": number, "function": "tow-release", "control": free_switch(doc)}
    )


@fault("conflicts/function-twice")
def one_function_on_two_channels(doc: Document) -> None:
    number = 1 + max(c["channel"] for c in doc["channels"])
    doc["transmitter"]["channels"] = max(number + 2, doc["transmitter"]["channels"])
    copied = {k: v for k, v in throttle(doc).items() if k in ("function", "side", "control")}
    doc["channels"].append({"channel": number, **copied})


# --- bands ----------------------------------------------------------------------------------


@fault("bands/gap", quiet=("bands/overlap",))
def band_copied_with_a_gap(doc: Document) -> None:
    """The band begins above what the switch sends."""
    percent = sent(doc)[-1]
    state = state_at(doc, percent)
    if band(state)[1] - in_unit(doc, state, percent) < 1:
        unfit("no room")
    ends = band(state)
    ends[0] = (in_unit(doc, state, percent) + ends[1]) / 2


@fault("bands/overlap", quiet=("bands/gap",))
def bands_laid_over_each_other(doc: Document) -> None:
    states = sorted(selector(doc)["states"], key=lambda s: band(s)[0])
    if len(states) < 2:
        unfit("one state")
    middle = sum(band(states[1])) / 2
    band(states[0])[1] = middle


@fault("bands/unreachable", "capacity/positions")
def mode_switch_with_two_positions_for_three_modes(doc: Document) -> None:
    chosen = selector(doc)
    if len(chosen["states"]) < 3:
        unfit("two modes")
    doc["transmitter"]["controls"]["short-switch"] = {"kind": "switch", "positions": ["a", "b"]}
    numbered(doc, chosen["channel"])["control"] = "short-switch"


@fault("bands/same-state", "bands/unreachable", quiet=("bands/gap",))
def two_positions_of_the_mode_switch_alike(doc: Document) -> None:
    channel = numbered(doc, selector(doc)["channel"])
    control = needs_switch(channel, doc)
    if len(positions(control)) < 3 or len(selector(doc)["states"]) < 3:
        unfit("two modes")
    given = values(control)
    control["values"] = [given[0], given[0] + 4, given[-1]]


@fault("bands/thin-margin", quiet=("bands/gap", "bands/overlap"))
def edge_of_two_bands_close_to_a_position(doc: Document) -> None:
    states = sorted(selector(doc)["states"], key=lambda s: band(s)[0])
    percent = min(sent(doc))
    if len(states) < 2 or state_at(doc, percent) is not states[0]:
        unfit("no lowest band")
    us = 12 / scale(doc)[1]
    band(states[0])[1] = in_unit(doc, states[0], percent + us)
    band(states[1])[0] = in_unit(doc, states[1], percent + us)


@fault("bands/recovery-at-rest", quiet=("bands/gap",))
def recovery_channel_reversed(doc: Document) -> None:
    toggle(numbered(doc, selector(doc, "recovery")["channel"]))


@fault("bands/unreachable")
def travel_of_the_mode_channel_cut_down(doc: Document) -> None:
    if len(selector(doc)["states"]) < 3:
        unfit("two modes")
    numbered(doc, selector(doc)["channel"])["travel_percent"] = {"low": 5, "high": 5}


@fault("bands/unreachable", quiet=("bands/recovery-at-rest",))
def travel_of_the_recovery_channel_left_at_nought(doc: Document) -> None:
    chosen = selector(doc, "recovery")
    low = sent(doc, "recovery")[0]
    if state_at(doc, low, "recovery")["behaviour"] == "recovery":
        unfit("recovery at rest")
    numbered(doc, chosen["channel"])["control"] = "stuck-button"
    doc["transmitter"]["controls"]["stuck-button"] = {"kind": "button", "values": [low, low]}
    if numbered(doc, chosen["channel"]).get("reversed"):
        unfit("reversed")


@fault("bands/gentlest-not-at-end")
def gentlest_mode_in_the_middle(doc: Document) -> None:
    order = ("self-level", "attitude-limit", "heading-hold", "rate-damping", "off")
    states = sorted(selector(doc)["states"], key=lambda s: band(s)[0])
    if len(states) < 3 or len(sent(doc)) != 3:
        unfit("two modes")
    gentlest = min(states, key=lambda s: order.index(s["behaviour"]))
    for key in ("state", "behaviour"):
        gentlest[key], states[1][key] = states[1][key], gentlest[key]


@fault("bands/on-the-way")
def flaps_and_mode_slowed_together(doc: Document) -> None:
    """Two positions at the ends, a third mode between them, and a channel that takes its time."""
    if len(selector(doc)["states"]) < 3:
        unfit("two modes")
    doc["transmitter"]["controls"]["short-switch"] = {"kind": "switch", "positions": ["a", "b"]}
    numbered(doc, selector(doc)["channel"]).update(control="short-switch", slow_s=2)


# --- throttle -------------------------------------------------------------------------------


@fault("throttle/no-cut", quiet=("throttle/cut-runs",))
def no_throttle_cut(doc: Document) -> None:
    electric(doc)
    if channels(doc, "arm"):
        unfit("arms by a channel")
    doc["overrides"].remove(cut(doc))


@fault("throttle/cut-sprung")
def throttle_cut_on_a_sprung_button(doc: Document) -> None:
    doc["transmitter"]["controls"]["side-button"] = {"kind": "button"}
    cut(doc)["when"] = [{"control": "side-button", "positions": ["pressed"]}]


@fault("throttle/cut-runs", quiet=("throttle/no-cut",))
def throttle_cut_without_a_value(doc: Document) -> None:
    cut(doc)["demand_percent"] = 0


@fault("throttle/cut-runs")
def mix_into_the_throttle_that_the_cut_does_not_stop(doc: Document) -> None:
    """The cut acts before the mixes, so that a mix opens the throttle again."""
    override = cut(doc)
    override["acts"] = "before-mixes"
    switch = free_switch(doc)
    doc.setdefault("mixes", []).append(
        {
            "name": "spare to throttle",
            "from": {"control": switch},
            "to": override["channel"],
            "rate_percent": {"low": 0, "high": 60},
        }
    )


@fault("throttle/low-runs", quiet=("reversal/throttle",))
def throttle_trim_left_up(doc: Document) -> None:
    electric(doc)
    throttle(doc)["trim_percent"] = 25


@fault("throttle/low-runs", quiet=("reversal/throttle",))
def low_end_of_the_throttle_travel_halved(doc: Document) -> None:
    throttle_travel(doc, "low", 40)


@fault("throttle/low-runs|reversal/throttle")
def aileron_and_throttle_channels_swapped(doc: Document) -> None:
    """The radio's channel order is not the receiver's: the motor follows the aileron stick."""
    if mixing(doc) != "none":
        unfit("the receiver mixes")
    pair = [throttle(doc)["channel"], first(channels(doc, "aileron", "rudder"))["channel"]]
    other = dict(zip(pair, reversed(pair), strict=True))
    for each in doc["receiver"]["outputs"]:
        each["channel"] = other.get(each["channel"], each["channel"])


@fault("throttle/releases-live")
def motor_restarts_when_the_cut_is_left(doc: Document) -> None:
    """A stopped engine does not start by itself."""
    electric(doc)
    cut(doc)["release"] = "at-once"


@fault("throttle/starts-live")
def radio_starts_without_a_check(doc: Document) -> None:
    electric(doc)
    doc["transmitter"]["start_checks"] = []


@fault("throttle/thin-margin", quiet=("throttle/low-runs",))
def motor_stops_by_a_hair(doc: Document) -> None:
    for each in motors(doc):
        if "stopped_us" in each:
            unfit("reversible")
        each["stop_below_us"] = each["arm_below_us"] = low_end_us(doc) + 4


@fault("throttle/trim-live", quiet=("throttle/low-runs",))
def throttle_trim_reaches_far(doc: Document) -> None:
    electric(doc)
    throttle(doc)["trim_range_percent"] = 40


@fault("throttle/low-stops-engine", quiet=("throttle/low-runs",))
def engine_idle_trimmed_away(doc: Document) -> None:
    first([doc.get("engine")], "no engine")
    throttle(doc)["trim_percent"] = -30


@fault("throttle/cut-runs", quiet=("throttle/low-runs",))
def cut_left_at_idle(doc: Document) -> None:
    first([doc.get("engine")], "no engine")
    cut(doc)["demand_percent"] = first(throttle(doc).get("curves", []))["points"][0][1]


# --- capacity -------------------------------------------------------------------------------


@fault("capacity/spare", quiet=("capacity/channels",))
def radio_bought_without_room_to_grow(doc: Document) -> None:
    doc["transmitter"]["channels"] = max(c["channel"] for c in doc["channels"])


@fault("capacity/channels")
def radio_of_four_channels(doc: Document) -> None:
    if _highest_used(doc) < 5:
        unfit("four are enough")
    doc["transmitter"]["channels"] = 4


# --- mixing ---------------------------------------------------------------------------------


@fault("mixing/twice")
def elevons_mixed_in_radio_and_receiver(doc: Document) -> None:
    if mixing(doc) not in ("elevon", "v-tail"):
        unfit("the receiver does not mix")
    two = axes(doc)[-2:]
    for one, other in (two, two[::-1]):
        doc.setdefault("mixes", []).append(
            {
                "name": f"{one['axis']} to {other['axis']}",
                "from": {"channel": one["channel"]},
                "to": other["channel"],
                "rate_percent": {"low": 50, "high": 50},
            }
        )


@fault("mixing/into-stabilised-axis")
def motor_mixed_into_a_stabilised_elevator(doc: Document) -> None:
    pitch = first(a for a in axes(doc) if a["axis"] == "pitch")
    doc.setdefault("mixes", []).append(
        {
            "name": "motor to elevator",
            "from": {"channel": throttle(doc)["channel"]},
            "to": pitch["channel"],
            "rate_percent": {"low": -10, "high": -10},
        }
    )


@fault("mixing/into-selector", "bands/disturbed")
def switch_mixed_into_the_mode_channel(doc: Document) -> None:
    doc.setdefault("mixes", []).append(
        {
            "name": "spare to mode",
            "from": {"control": free_switch(doc)},
            "to": selector(doc)["channel"],
            "rate_percent": {"low": 100, "high": 100},
        }
    )


@fault("mixing/coordination-backwards")
def rudder_coordinated_against_the_turn(doc: Document) -> None:
    roll, yaw = first(channels(doc, "aileron")), first(channels(doc, "rudder"))
    doc.setdefault("mixes", []).append(
        {
            "name": "aileron to rudder",
            "from": {"channel": roll["channel"]},
            "to": yaw["channel"],
            "rate_percent": {"low": -20, "high": -20},
        }
    )


@fault("mixing/lopsided")
def one_flap_goes_up(doc: Document) -> None:
    toggle(output(doc, first(servos(doc, "flap"))["port"]))


# --- pulses ---------------------------------------------------------------------------------


@fault("pulses/frame-too-fast")
def analogue_servos_on_a_fast_frame(doc: Document) -> None:
    doc["receiver"]["frame_ms"] = 5
    servo = first(doc.get("servos", []))
    servo.pop("max_rate_hz", None)
    servo["kind"] = "analogue"


@fault("pulses/centre")
def servo_with_another_neutral(doc: Document) -> None:
    servo = first(doc.get("servos", []))
    centre = output(doc, servo["port"]).get("centre_us", scale(doc)[0])
    servo["centre_us"] = centre + 40


# --- power ----------------------------------------------------------------------------------


@fault("power/volts")
def pack_with_too_many_cells(doc: Document) -> None:
    most = max(each["cells"][1] for each in motors(doc) if "cells" in each)
    pack(doc)["cells"] = most + 2


@fault("power/volts")
def high_voltage_supply_on_standard_servos(doc: Document) -> None:
    limits = [s["volts"][1] for s in doc.get("servos", []) if "volts" in s]
    supply(doc)["volts"] = first(limits) + 1.5


@fault("power/wire")
def long_thin_lead_to_the_receiver(doc: Document) -> None:
    first([s for s in doc.get("servos", []) if "stall_a" in s])
    supply(doc)["wire"] = {"gauge_awg": 30, "length_mm": 900}


@fault("power/peak", "power/continuous")
def supply_of_a_park_flyer_in_a_large_model(doc: Document) -> None:
    first([s for s in doc.get("servos", []) if "stall_a" in s])
    supply(doc).update(continuous_a=0.2, peak_a=0.4)


@fault("power/alarm")
def voltage_alarm_never_set(doc: Document) -> None:
    electric(doc)
    pack(doc).pop("warning_v_per_cell", None) or unfit("no alarm")


@fault("power/alarm")
def voltage_alarm_too_low(doc: Document) -> None:
    electric(doc)
    if pack(doc)["chemistry"] != "lipo":
        unfit("another chemistry")
    pack(doc)["warning_v_per_cell"] = 3.1


@fault("power/servo-weak")
def servo_of_a_smaller_model(doc: Document) -> None:
    first([doc["model"].get("max_speed_m_s")])
    able = [s for s in servos(doc, *PRIMARY) if {"torque_ncm", "linkage"} <= s.keys()]
    first(s for s in able if {"area_cm2", "chord_mm"} <= surface(doc, s).keys())["torque_ncm"] = 0.5


# --- sign-offs ------------------------------------------------------------------------------


@fault("sign-offs/missing", quiet=("sign-offs/stale",))
def directions_never_proven(doc: Document) -> None:
    entries = doc.get("sign_offs", [])
    entries.remove(first(s for s in entries if s["check"] == "control-direction"))


@fault("sign-offs/stale", quiet=("sign-offs/missing",))
def memory_copied_with_the_sign_offs_of_another_model(doc: Document) -> None:
    for entry in doc.get("sign_offs") or unfit("nothing signed off"):
        entry["digest"] = "0" * 64


@fault("sign-offs/stale", quiet=("sign-offs/missing",))
def servo_swapped_after_directions_were_proven(doc: Document) -> None:
    first(doc.get("sign_offs", []))
    _turn(first(servos(doc, *PRIMARY)))


@fault("sign-offs/waiver-expired")
def waiver_past_its_day(doc: Document) -> None:
    doc["waivers"] = [
        {"rule": "capacity/spare", "reason": "old radio", "by": "A. Knot", "until": "2020-01-31"}
    ]
