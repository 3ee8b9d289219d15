"""Changes of the building: better insulation or glazing, higher window sills."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from heatloop.layout.walls import interrupts_skirting
from heatloop.survey.building import BuildUp, Layer, Room
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import number
from heatloop.workflows.improve.candidates.warmer_loops import loops_heating
from heatloop.workflows.improve.remedy import Edit, Family, Remedy

U_STEP_W_M2K = 0.1

BEST_OPENING_U_W_M2K, BEST_GLASS_U_W_M2K, BEST_WALL_U_W_M2K = 0.7, 0.5, 0.15
"""Lowest U-values that are tried: common practice for triple glazing and well insulated walls."""

ADDED_M, MAX_ADDED_M, ADDED_CONDUCTIVITY_W_MK = 0.02, 0.2, 0.035
"""Steps and maximum of added insulation, and its conductivity."""

ADDED = "insulation, added"


def better_build_ups(survey: SurveyData, room: Room) -> Iterator[Family]:
    """Each build-up between the room and outdoors or an unheated space, improved in steps; ground floors left out."""
    outer = {"outdoors", *(space.name for space in survey.spaces)}
    openings, surfaces = [], []
    for wall in room.walls:
        openings += [o.build_up for o in wall.openings if (o.beyond or wall.beyond) in outer]
        surfaces += [wall.build_up] if wall.beyond in outer else []
    surfaces += [s.build_up for s in (room.floor, room.ceiling) if s is not None and s.beyond in outer]
    held = {build_up.name: build_up for build_up in survey.build_ups}
    for name in dict.fromkeys([*openings, *surfaces]):
        if name in held:
            best = BEST_OPENING_U_W_M2K if name in openings else BEST_WALL_U_W_M2K
            if family := tuple(_better(held[name], best)):
                yield family


def better_glazing(survey: SurveyData, build_up: str | None) -> Iterator[Family]:
    """The build-up of an opening improved in steps."""
    held = next((item for item in survey.build_ups if item.name == build_up), None)
    if held is not None and (family := tuple(_better(held, BEST_OPENING_U_W_M2K))):
        yield family


def _better(build_up: BuildUp, best_w_m2k: float) -> Iterator[Remedy]:
    if build_up.u_w_m2k is not None:
        for u_w_m2k in _lower(build_up.u_w_m2k, best_w_m2k):
            words = f"{build_up.name}: U-value from {build_up.u_w_m2k:g} to {u_w_m2k:g} W/(m² K)"
            yield _remedy(build_up.name, words, u_w_m2k=u_w_m2k)
    elif build_up.window is not None:
        parts = build_up.window
        for u_w_m2k in _lower(parts.glass_u_w_m2k, BEST_GLASS_U_W_M2K):
            words = f"{build_up.name}: U-value of the glass from {parts.glass_u_w_m2k:g} to {u_w_m2k:g} W/(m² K)"
            yield _remedy(build_up.name, words, window=replace(parts, glass_u_w_m2k=u_w_m2k))
    elif build_up.layers:
        for step in range(1, round(MAX_ADDED_M / ADDED_M) + 1):
            added = Layer(ADDED, round(ADDED_M * step, 3), ADDED_CONDUCTIVITY_W_MK)
            words = (
                f"{build_up.name}: {number(1000.0 * added.thickness_m)} mm of insulation added outside "
                f"({ADDED_CONDUCTIVITY_W_MK:g} W/(m K))"
            )
            yield _remedy(build_up.name, words, layers=(*build_up.layers, added))


def _lower(present_w_m2k: float, best_w_m2k: float) -> Iterator[float]:
    """U-values below the present one in steps, the last is the best one."""
    u_w_m2k = present_w_m2k
    while u_w_m2k > best_w_m2k + 1e-9:
        u_w_m2k = max(round(u_w_m2k - U_STEP_W_M2K, 4), best_w_m2k)
        yield u_w_m2k


def _remedy(name: str, words: str, **values: object) -> Remedy:
    edit = Edit("build_up", name, tuple(values.items()))
    return Remedy("building", f"build-up {name}", words, (edit,), other_work=True)


def higher_window_boards(survey: SurveyData, room: Room) -> Iterator[Family]:
    """Windows whose board is too low for the profile below it: the board raised to the height that it requires."""
    loops = [loop for loop in loops_heating(survey, room.name) if loop.profile]
    if not loops:
        return
    profile = survey.catalogue.profile(loops[0].profile)
    required_m = round((profile.height_mm + profile.clearance_mm) / 1000.0, 4)
    for number_, wall in enumerate(room.walls, start=1):
        for place, opening in enumerate(wall.openings):
            raised_m = required_m - opening.sill_m
            if opening.sill_m <= 0.0 or not interrupts_skirting(opening, profile) or raised_m >= opening.height_m:
                continue
            higher = replace(opening, sill_m=required_m, height_m=round(opening.height_m - raised_m, 4))
            openings = (*wall.openings[:place], higher, *wall.openings[place + 1 :])
            walls = tuple(replace(w, openings=openings) if w is wall else w for w in room.walls)
            words = (
                f"window sill on wall {number_} of {room.name}: {number(1000.0 * raised_m)} mm higher, so that "
                "profile fits below it"
            )
            edit = Edit("room", room.name, (("walls", walls),))
            yield (Remedy("window sill", f"room {room.name}", words, (edit,), other_work=True),)
