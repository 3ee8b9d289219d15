"""Rules of a catalogue beyond the type and range of each value."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from heatloop.physics.ducts import Duct, oval_duct, round_duct
from heatloop.physics.emitters import fit_characteristic
from heatloop.physics.friction import MAX_RELATIVE_ROUGHNESS
from heatloop.survey.catalogue import Catalogue, Emitter, Pipe, Valve
from heatloop.survey.files.key_path import Loc
from heatloop.survey.files.validation import IssueCollector
from heatloop.survey.profiles import Channel, ChannelCoupling, OutputRating, Profile
from heatloop.survey.rules.part_counts import check_parts


def check_catalogue(catalogue: Catalogue, findings: IssueCollector) -> None:
    """Add every issue of a catalogue."""
    check_unique("profile", [item.name for item in catalogue.profiles], findings)
    check_unique("joint", [item.name for item in catalogue.joints], findings)
    check_unique("end", [item.name for item in catalogue.ends], findings)
    check_unique("pipe", [item.name for item in catalogue.pipes], findings)
    check_unique("valve", [item.name for item in catalogue.valves], findings)
    check_unique("emitter", [item.name for item in catalogue.emitters], findings)
    for index, profile in enumerate(catalogue.profiles):
        _profile(("profile", index), profile, findings)
    for index, joint in enumerate(catalogue.joints):
        least, most = joint.turn_deg
        if least > most:
            findings.add(("joint", index, "turn_deg"), f"{least:g} before {most:g}", "the smaller turn first")
    kinds = [end.kind for end in catalogue.ends]
    for index, kind in enumerate(kinds):
        if kind and kind in kinds[:index]:
            required = f"one end of each kind; end {kinds.index(kind) + 1} is of this one"
            findings.add(("end", index, "kind"), f'"{kind}" again', required)
    for index, pipe in enumerate(catalogue.pipes):
        _pipe(("pipe", index), pipe, findings)
    for index, valve in enumerate(catalogue.valves):
        _valve(("valve", index), valve, findings)
    for index, emitter in enumerate(catalogue.emitters):
        _emitter(("emitter", index), emitter, findings)
    check_parts(catalogue, findings)


def check_unique(key: str, names: Sequence[str], findings: IssueCollector) -> None:
    """Report every item of `[[key]]` with the name of an earlier one."""
    for index, name in enumerate(names):
        if name and name in names[:index]:
            first = names.index(name) + 1
            required = f"a name of its own; {key.replace('_', '-')} {first} has this one"
            findings.add((key, index, "name"), f'"{name}" again', required)


def check_rising(loc: Loc, values: Sequence[float], quantity: str, findings: IssueCollector) -> None:
    """Report the first value of a list that is not above the one before it."""
    for index, (before, value) in enumerate(pairwise(values), start=1):
        if value <= before:
            findings.add((*loc, index), f"{value:g} after {before:g}", quantity)
            return


def _profile(loc: Loc, profile: Profile, findings: IssueCollector) -> None:
    for index, channel in enumerate(profile.channels):
        _channel((*loc, "channels", index), channel, findings)
    _roughness(loc, profile.roughness_mm, _ducts(profile), findings)
    rating = profile.rating
    if rating.drop_k is not None and rating.flow_kg_s is not None:
        findings.add((*loc, "rating"), "drop_k and flow_kg_s", "the one that was kept constant in the test")
    if not findings.is_unread((*loc, "rating")):
        _rating((*loc, "rating"), rating, findings)
    if profile.link is not None:
        _link((*loc, "link"), profile.link, findings)
    if profile.stock_m and max(profile.stock_m) < profile.min_piece_m:
        required = f"a length of at least min_piece_m, {profile.min_piece_m:g} m"
        findings.add((*loc, "stock_m"), f"{max(profile.stock_m):g} m at most", required)


def _roughness(loc: Loc, roughness_mm: float, ducts: Iterable[Duct], findings: IssueCollector) -> None:
    """Friction is known up to a share of the diameter."""
    narrowest_mm = 1000.0 * min((duct.hydraulic_diameter_m for duct in ducts), default=math.inf)
    most_mm = MAX_RELATIVE_ROUGHNESS * narrowest_mm
    if roughness_mm > most_mm:
        required = f"at most {100.0 * MAX_RELATIVE_ROUGHNESS:g} % of the bore, {most_mm:.3g} mm"
        findings.add((*loc, "roughness_mm"), f"{roughness_mm:g}", required)


def _ducts(profile: Profile) -> Iterator[Duct]:
    """The channels whose sizes can be read."""
    for channel in profile.channels:
        bore_mm, width_mm, height_mm = (size or 0.0 for size in (channel.bore_mm, channel.width_mm, channel.height_mm))
        if bore_mm > 0.0:
            yield round_duct(bore_mm / 1000.0)
        elif width_mm > 0.0 and height_mm > 0.0:
            yield oval_duct(width_mm / 1000.0, height_mm / 1000.0)


def _rating(loc: Loc, rating: OutputRating, findings: IssueCollector) -> None:
    if rating.test_points:
        points = [(point.excess_k, point.output_w_m) for point in rating.test_points]
        try:
            fit_characteristic([excess for excess, _ in points], [output for _, output in points])
        except ValueError as error:
            listed = ", ".join(f"{output:g} W/m at {excess:g} K" for excess, output in points)
            findings.add((*loc, "test_points"), listed, str(error))
        return
    if findings.is_unread((*loc, "test_points")):
        return
    for key, value in (("output_w_m", rating.output_w_m), ("exponent", rating.exponent)):
        if math.isnan(value) and not findings.is_unread((*loc, key)):
            findings.add((*loc, key), "nothing", f"{key} of the test, or test_points to fit it to")


def _channel(loc: Loc, channel: Channel, findings: IssueCollector) -> None:
    if findings.is_unread(loc):
        return
    sizes = {"width_mm": channel.width_mm, "height_mm": channel.height_mm}
    stated = [key for key, size in sizes.items() if size is not None]
    if channel.bore_mm is not None and stated:
        findings.add(loc, f"bore_mm and {stated[0]}", "bore_mm of a round channel, or both sizes of an oval one")
    elif channel.bore_mm is None and len(stated) == 1:
        other = next(key for key in sizes if key not in stated)
        findings.add((*loc, other), "nothing", f"the other size of an oval channel, beside {stated[0]}")
    elif channel.bore_mm is None and not stated:
        findings.add(loc, "no size", "bore_mm of a round channel, or width_mm and height_mm of an oval one")


def _link(loc: Loc, link: ChannelCoupling, findings: IssueCollector) -> None:
    if findings.is_unread(loc):
        return
    web = {
        "web_thickness_mm": link.web_thickness_mm,
        "web_length_mm": link.web_length_mm,
        "conductivity_w_mk": link.conductivity_w_mk,
    }
    stated = [key for key, size in web.items() if size is not None]
    lacking = [key for key, size in web.items() if size is None]
    if link.w_mk is not None and stated:
        findings.add(loc, f"w_mk and {stated[0]}", "w_mk, or the size and conductivity of the web")
    elif link.second_test is not None and (link.w_mk is not None or stated):
        findings.add(loc, "second_test beside a stated link", "one of the two")
    elif link.w_mk is None and not stated and link.second_test is None:
        findings.add(loc, "no link", f"w_mk, or {', '.join(web)} of the web")
    elif link.w_mk is None and lacking and link.second_test is None:
        findings.add((*loc, lacking[0]), "nothing", f"{' and '.join(lacking)} beside {stated[0]}")


def _pipe(loc: Loc, pipe: Pipe, findings: IssueCollector) -> None:
    if pipe.outside_mm <= pipe.bore_mm:
        required = f"more than the bore of {pipe.bore_mm:g} mm"
        findings.add((*loc, "outside_mm"), f"{pipe.outside_mm:g}", required)
    if pipe.bore_mm > 0.0:
        _roughness(loc, pipe.roughness_mm, [round_duct(pipe.bore_m)], findings)


def _emitter(loc: Loc, emitter: Emitter, findings: IssueCollector) -> None:
    if findings.is_unread(loc) or any(findings.is_unread((*loc, key)) for key in ("zeta", "kv_m3_h")):
        return
    if emitter.zeta is not None and emitter.kv_m3_h is not None:
        findings.add(loc, "zeta and kv_m3_h", "one of them: each gives the whole pressure drop")
    elif emitter.zeta is None and emitter.kv_m3_h is None:
        findings.add(loc, "no pressure drop", "zeta on the bore of the tails, or kv_m3_h")


def _valve(loc: Loc, valve: Valve, findings: IssueCollector) -> None:
    rising = "Kv that rises with the setting, setting 1 first"
    check_rising((*loc, "kv_m3_h"), valve.kv_m3_h, rising, findings)
    check_rising((*loc, "kv_at_1k_m3_h"), valve.kv_at_1k_m3_h, rising, findings)
    if findings.is_unread((*loc, "kv_m3_h")) or findings.is_unread((*loc, "kv_at_1k_m3_h")):
        return
    settings, at_1k = len(valve.kv_m3_h), len(valve.kv_at_1k_m3_h)
    if at_1k and at_1k != settings:
        findings.add((*loc, "kv_at_1k_m3_h"), f"{at_1k} values", f"{settings}, one for each of kv_m3_h")
    for index, (one_k, band) in enumerate(zip(valve.kv_at_1k_m3_h, valve.kv_m3_h, strict=False)):
        if one_k > band:
            required = f"at most the {band:g} of kv_m3_h at the same setting"
            findings.add((*loc, "kv_at_1k_m3_h", index), f"{one_k:g}", required)
    if valve.kvs_m3_h is not None and valve.kv_m3_h and valve.kvs_m3_h < valve.kv_m3_h[-1]:
        required = f"at least the {valve.kv_m3_h[-1]:g} of the widest setting"
        findings.add((*loc, "kvs_m3_h"), f"{valve.kvs_m3_h:g}", required)
