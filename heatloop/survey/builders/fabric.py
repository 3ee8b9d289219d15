"""What rooms are built of and what lies behind it, for `hl.build`."""

from __future__ import annotations

from typing import Any

from heatloop.survey.builders.keys import value_with_keys
from heatloop.survey.building import Building, BuildUp, FloorOrCeiling, Layer, UnheatedSpace


def surface(beyond: str, build_up: str | None = None, **keys: Any) -> FloorOrCeiling:
    """A floor or a ceiling.

    Parameters
    ----------
    beyond : str
        "ground", "outdoors", "neighbour", a room or a space.
    build_up : str, optional
        Its build-up.
    **keys
        Other keys, `neighbour_c` in °C, `area_m2` in m²: units and meaning under `[[room]]` on the page "The survey
        file".

    Returns
    -------
    FloorOrCeiling

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.surface("ground", "slab").beyond
    'ground'
    """
    return value_with_keys("surface", FloorOrCeiling, keys, beyond=beyond, build_up=build_up)


def build_up(name: str, *layers: Layer, **keys: Any) -> BuildUp:
    """A build-up by its layers from inside to outside, or by `u_w_m2k`.

    Parameters
    ----------
    name : str
        Name used by walls.
    *layers : Layer
        From :func:`layer`.
    **keys
        Other keys, such as `u_w_m2k` in W/(m² K): units and meaning under `[[build_up]]` on the page "The survey file".

    Returns
    -------
    BuildUp

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> slab = hl.build.build_up("slab", hl.build.layer("screed", 0.065), hl.build.layer("concrete", 0.15))
    >>> [part.material for part in slab.layers]
    ['screed', 'concrete']
    """
    return value_with_keys("build_up", BuildUp, keys, name=name, layers=layers)


def layer(material: str, thickness_m: float, conductivity_w_mk: float | None = None, **keys: Any) -> Layer:
    """A layer of a build-up.

    Parameters
    ----------
    material : str
        Name of the material.
    thickness_m : float
        Thickness in m.
    conductivity_w_mk : float, optional
        Conductivity in W/(m K); or `resistance_m2k_w`, or `cavity`.
    **keys
        Other keys, such as `resistance_m2k_w` in m² K/W and `cavity`: units and meaning under `[[build_up]]` on
        the page "The survey file".

    Returns
    -------
    Layer

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.layer("mineral wool", 0.1, 0.035).thickness_m
    0.1
    """
    return value_with_keys(
        "layer", Layer, keys, material=material, thickness_m=thickness_m, conductivity_w_mk=conductivity_w_mk
    )


def building(**keys: Any) -> Building:
    """Data common to all rooms.

    Parameters
    ----------
    **keys
        Other keys, such as `slab_area_m2` in m² and `thermal_bridge_w_m2k` in W/(m² K): units and meaning under
        `[building]` on the page "The survey file".

    Returns
    -------
    Building

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.building(slab_area_m2=48.0).slab_area_m2
    48.0
    """
    return value_with_keys("building", Building, keys)


def space(name: str, temp_c: float | None = None, **keys: Any) -> UnheatedSpace:
    """An unheated space.

    Parameters
    ----------
    name : str
        Name used by walls.
    temp_c : float, optional
        Its temperature on the design day in °C; or `temperature_factor`.
    **keys
        Other keys, `temperature_factor` and `heating_pipes`: units and meaning under `[[space]]` on the page "The
        survey file".

    Returns
    -------
    UnheatedSpace

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.space("garage", 5.0).temp_c
    5.0
    """
    return value_with_keys("space", UnheatedSpace, keys, name=name, temp_c=temp_c)
