"""Random systems for the score: those of the other tests, with other emitters, mixed circuits and bypasses among
them."""

from __future__ import annotations

import numpy as np

from heatloop.hydraulics.sizing.size_system import prepare_system, size_system
from heatloop.survey.read import survey_of
from tests.helpers.diagnosis.sites import BESIDE, random_tables

EMITTERS, MIXED, BYPASSED = 0.3, 0.25, 0.25
"""Shares of systems with other emitters, with a mixed circuit, and with a bypass."""

MIXED_K = 5.0
"""A mixed circuit is that much cooler than the source."""

LOSS_EXPONENT = 1.28


def varied_tables(rng):
    """Tables of a random survey, and the kinds of addition that it has."""
    tables, added = random_tables(rng), []
    if rng.random() < EMITTERS:
        added.append("other emitters")
        for loop in rng.choice(tables["loop"], int(rng.integers(1, 3)), replace=False):
            _add_emitter(rng, tables, loop)
    if rng.random() < MIXED and tables["trunk"]:
        added.append("mixed circuit")
        _mix(tables, str(tables["trunk"][-1]["name"]))
    if rng.random() < BYPASSED:
        added.append("bypass")
        bypass = {"name": "between flow and return", "kv_m3_h": round(float(rng.uniform(0.15, 0.4)), 2)}
        unmixed = [trunk["name"] for trunk in tables["trunk"] if "mixed_to_c" not in trunk]
        if unmixed and rng.random() < 0.5:
            bypass["trunk"] = unmixed[-1]
        tables["bypass"] = [bypass]
    return tables, tuple(added)


def _rooms_of(loop):
    routes = loop.get("arms") or [loop["route"]]
    return list(dict.fromkeys(item["room"] for route in routes for item in route if "room" in item))


def _add_emitter(rng, tables, loop):
    """A plinth emitter in the last room of a loop, on its return or its flow; the room loses as much more heat."""
    room = next(room for room in tables["room"] if room["name"] == _rooms_of(loop)[-1])
    side = str(rng.choice(["return", "return", "flow"]))
    loop["emitters"] = [{"emitter": "plinth emitter 450", "room": room["name"], "side": side}]
    excess = tables["project"]["flow_temp_c"] - tables["project"]["delta_t_k"] - room["indoor_c"]
    room["heat_loss_w"] = round(room["heat_loss_w"] + 0.6 * 450.0 * (excess / 50.0) ** 1.33)


def _mix(tables, name):
    """A trunk mixed down; the rooms behind it lose as much less heat as their skirting gives less."""
    trunk = next(one for one in tables["trunk"] if one["name"] == name)
    flow_c, drop_k = tables["project"]["flow_temp_c"], tables["project"]["delta_t_k"]
    trunk["mixed_to_c"] = round(flow_c - MIXED_K, 1)
    for loop in (one for one in tables["loop"] if one.get("trunk") == name):
        for room in (one for one in tables["room"] if one["name"] in _rooms_of(loop)):
            excess = flow_c - drop_k / 2.0 - room["indoor_c"]
            room["heat_loss_w"] = round(room["heat_loss_w"] * ((excess - MIXED_K) / excess) ** LOSS_EXPONENT)


def varied_design(seed):
    """A random system, sized, and the kinds of addition that it has."""
    tables, added = varied_tables(np.random.default_rng([seed, 7]))
    return size_system(prepare_system(survey_of(tables, BESIDE))), added
