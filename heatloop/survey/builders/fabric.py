"""What rooms are built of and what lies behind it, for `hl.build`."""

from __future__ import annotations

from typing import Any

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
        Other keys of it: `neighbour_c`, `area_m2`.

    Returns
    -------
    FloorOrCeiling

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.surface("ground", "slab").beyond
    'ground'
    """
    return FloorOrCeiling(beyond, build_up, **keys)


def build_up(name: str, *layers: Layer, **keys: Any) -> BuildUp:
    """A build-up by its layers from inside to outside, or by `u_w_m2k`.

    Parameters
    ----------
    name : str
        Name used by walls.
    *layers : Layer
        From :func:`layer`.
    **keys
        Other keys of a build-up, such as `u_w_m2k`.

    Returns
    -------
    BuildUp

    Examples
    --------
    >>> import heatloop as hl
    >>> slab = hl.build.build_up("slab", hl.build.layer("screed", 0.065), hl.build.layer("concrete", 0.15))
    >>> [part.material for part in slab.layers]
    ['screed', 'concrete']
    """
    return BuildUp(name, tuple(layers), **keys)


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
        Other keys of a layer.

    Returns
    -------
    Layer

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.layer("mineral wool", 0.1, 0.035).thickness_m
    0.1
    """
    return Layer(material, thickness_m, conductivity_w_mk, **keys)


def building(**keys: Any) -> Building:
    """Data common to all rooms.

    Parameters
    ----------
    **keys
        Keys of [building] in a survey file, such as `slab_area_m2` and `thermal_bridge_w_m2k`.

    Returns
    -------
    Building

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.building(slab_area_m2=48.0).slab_area_m2
    48.0
    """
    return Building(**keys)


def space(name: str, temp_c: float | None = None, **keys: Any) -> UnheatedSpace:
    """An unheated space.

    Parameters
    ----------
    name : str
        Name used by walls.
    temp_c : float, optional
        Its temperature on the design day in °C; or `temperature_factor`.
    **keys
        Other keys of it: `temperature_factor`, `heating_pipes`.

    Returns
    -------
    UnheatedSpace

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.space("garage", 5.0).temp_c
    5.0
    """
    return UnheatedSpace(name, temp_c, **keys)
