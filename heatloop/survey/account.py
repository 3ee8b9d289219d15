"""What a survey and its parts tell of themselves: rooms, loops, profiles and pipes in a few lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from heatloop.describe import Account, grid
from heatloop.wording import listing, plural

if TYPE_CHECKING:
    from heatloop.survey.catalogue import Channel, Pipe, Profile
    from heatloop.survey.model import Loop, Room, Survey

SOURCED = "Source: {}."


def survey_account(survey: Survey) -> Account:
    """The job, its rooms and its loops."""
    project, source = survey.project, survey.source
    levels = sorted({room.level_m for room in survey.rooms})
    where = f" on {len(levels)} levels" if len(levels) > 1 else ""
    sized = f"a drop of {project.delta_t_k:g} K" if project.size_by == "drop" else "the loss of the rooms"
    output = "" if source.output_kw is None else f" of {source.output_kw:g} kW"
    shared = f", {plural(len(survey.trunks), 'trunk')}" if survey.trunks else ""
    return Account(
        f"{project.name}, survey",
        (
            f"{plural(len(survey.rooms), 'room')}{where}, {plural(len(survey.loops), 'loop')}{shared}; {source.kind}"
            f"{output}.",
            f"Design day {project.outdoor_c:g} °C outdoors, flow {project.flow_temp_c:g} °C, sized by {sized}.",
        ),
        (
            grid(
                "Rooms",
                map(_room, survey.rooms),
                {
                    "room": "Room",
                    "level_m": "Level",
                    "indoor_c": "Indoor",
                    "height_m": "Height",
                    "walls": "Walls",
                    "around_m": "Way round",
                    "stated_w": "Loss stated",
                },
            ),
            grid(
                "Loops",
                (_loop(survey, loop) for loop in survey.loops),
                {
                    "loop": "Loop",
                    "profile": "Profile",
                    "arrangement": "Arrangement",
                    "trunk": "Trunk",
                    "rooms": "Rooms",
                    "flow_temp_c": "Flow",
                },
            ),
        ),
    )


def _room(room: Room) -> dict[str, object]:
    return {
        "room": room.name,
        "level_m": room.level_m,
        "indoor_c": room.indoor_c,
        "height_m": room.height_m,
        "walls": str(len(room.walls)) if room.walls else "not surveyed",
        "around_m": sum(wall.length_m for wall in room.walls) or None,
        "stated_w": room.heat_loss_w,
    }


def _loop(survey: Survey, loop: Loop) -> dict[str, object]:
    names = [getattr(item, "room", None) for arm in loop.arms for item in arm]
    names += [item.room for item in loop.emitters]
    return {
        "loop": loop.name,
        "profile": loop.profile or listing(dict.fromkeys(item.emitter for item in loop.emitters)),
        "arrangement": arrangement_words(loop),
        "trunk": loop.trunk or "at the source",
        "rooms": ", ".join(dict.fromkeys(name for name in names if name)),
        "flow_temp_c": survey.project.flow_temp_c if loop.flow_temp_c is None else loop.flow_temp_c,
    }


def arrangement_words(loop: Loop) -> str:
    """How the water of a loop runs: its arrangement, from the middle, or no skirting at all."""
    if not loop.arms:
        return "no skirting"
    return "from the middle" if len(loop.arms) > 1 else loop.arrangement


def profile_account(profile: Profile) -> Account:
    """A profile: its section, its rating and its waterways."""
    rating = profile.rating
    drop = "" if rating.drop_k is None else f", {rating.drop_k:g} K drop"
    sentences = [
        f"{profile.height_mm:g} mm high, {profile.depth_mm:g} mm deep, {plural(len(profile.channels), 'channel')}; "
        f"stock of {listing(f'{length:g} m' for length in profile.stock_m)}.",
        f"{rating.output_w_m:g} W/m at 50 K, exponent {rating.exponent:g}, by {rating.standard}: sample of "
        f"{rating.sample_m:g} m, arrangement {rating.arrangement}{drop}.",
    ]
    if profile.sill is not None:
        sentences.append(
            f"Laid in the floor {profile.sill.output_w_m:g} W/m at 50 K, exponent {profile.sill.exponent:g}."
        )
    if profile.max_pressure_kpa is not None:
        sentences.append(f"Takes {profile.max_pressure_kpa:g} kPa at most.")
    sentences += sourced(profile.source, profile.invented)
    channels = grid("Channels", map(_channel, profile.channels), {"role": "Channel", "bore": "Bore"})
    return Account(f"Profile {profile.name}", tuple(sentences), (channels,))


def _channel(channel: Channel) -> dict[str, object]:
    oval = f"{channel.width_mm or 0:g} x {channel.height_mm or 0:g} mm, oval"
    bore = oval if channel.bore_mm is None else f"{channel.bore_mm:g} mm"
    return {"role": channel.role or "waterway", "bore": bore}


def pipe_account(pipe: Pipe) -> Account:
    """A pipe: bore, outside and insulation."""
    lagged = f", insulation {pipe.insulation_mm:g} mm" if pipe.insulation_mm > 0 else ", no insulation"
    size = f"Bore {pipe.bore_mm:g} mm, outside {pipe.outside_mm:g} mm, roughness {pipe.roughness_mm:g} mm{lagged}."
    return Account(f"Pipe {pipe.name}", (size, *sourced(pipe.source, pipe.invented)))


def sourced(source: str, invented: bool) -> list[str]:
    told = ["An invented entry: nothing like it can be bought."] if invented else []
    return [*told, SOURCED.format(source.rstrip("."))] if source else told
