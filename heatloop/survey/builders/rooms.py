"""Rooms, their walls and what is in and against them, for `hl.build`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from heatloop.survey.builders.keys import value_with_keys
from heatloop.survey.building import (
    CoveredStretch,
    Diagonal,
    Obstacle,
    Opening,
    Room,
    Wall,
)

DOOR_WIDTH_M, DOOR_HEIGHT_M = 0.84, 2.04
"""Structural opening of an inside door, where none is given."""

SILL_M = 0.9
"""Sill of a window above the floor, where none is given."""

OnWall = Opening | Obstacle | CoveredStretch


def room(name: str, indoor_c: float, walls: Sequence[Wall] = (), **keys: Any) -> Room:
    """A room by its walls, clockwise seen from above.

    Parameters
    ----------
    name : str
        Name used by loops and walls.
    indoor_c : float
        Room temperature in °C.
    walls : sequence of Wall, optional
        From :func:`wall`, clockwise.
    **keys
        Other keys, such as `height_m` in m, `floor`, `ceiling` and `heat_loss_w` in W: units and meaning under
        `[[room]]` on the page "The survey file".

    Returns
    -------
    Room

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> study = hl.build.room("Study", 20.0, [
    ...     hl.build.wall(2.9, "Hall", hl.build.door(0.3, name="study door", build_up="inner door")),
    ...     hl.build.wall(2.8, "outdoors", hl.build.window(0.8, 1.2, 1.2, build_up="window"), build_up="outer wall"),
    ...     hl.build.wall(2.9, "outdoors", hl.build.covered(0.6, 1.4, 0.7), build_up="outer wall"),
    ...     hl.build.wall(2.8, "Living room", build_up="partition"),
    ... ], floor=hl.build.surface("ground", "slab"))
    >>> len(study.walls)
    4
    """
    return value_with_keys("room", Room, keys, name=name, indoor_c=indoor_c, walls=tuple(walls))


def wall(length_m: float, beyond: str | None = None, *items: OnWall, **keys: Any) -> Wall:
    """A wall of a room with its openings and obstacles.

    Parameters
    ----------
    length_m : float
        Length by tape in m.
    beyond : str, optional
        "outdoors", "ground", "neighbour", a room or a space; default: an equally warm room.
    *items : Opening, Obstacle or CoveredStretch
        From :func:`door`, :func:`window`, :func:`glazed_door`, :func:`obstacle` and :func:`covered`, in any order.
    **keys
        Other keys, `turn_deg` in degrees, `build_up`, `neighbour_c` in °C: units and meaning under `[[room]]` on
        the page "The survey file".

    Returns
    -------
    Wall

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.wall(3.6, "outdoors", hl.build.window(1.0, 1.2, 1.3), build_up="outer wall").openings[0].width_m
    1.2
    """
    return value_with_keys(
        "wall",
        Wall,
        keys,
        length_m=length_m,
        beyond=beyond,
        openings=tuple(item for item in items if isinstance(item, Opening)),
        obstacles=tuple(item for item in items if isinstance(item, Obstacle)),
        covered=tuple(item for item in items if isinstance(item, CoveredStretch)),
    )


def door(start_m: float, width_m: float = DOOR_WIDTH_M, height_m: float = DOOR_HEIGHT_M, **keys: Any) -> Opening:
    """A door; with the same `name` in two rooms it is one doorway.

    Parameters
    ----------
    start_m : float
        Distance of its start from the left-hand end of the wall in m.
    width_m, height_m : float, default 0.84 and 2.04
        Structural opening in m.
    **keys
        Other keys, such as `name`, `build_up` and `beyond`: units and meaning under `[[room]]` on the page
        "The survey file".

    Returns
    -------
    Opening

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.door(0.4, name="hall door").end_m
    1.24
    """
    return _opening("door", keys, start_m, width_m, height_m)


def window(start_m: float, width_m: float, height_m: float, sill_m: float = SILL_M, **keys: Any) -> Opening:
    """A window.

    Parameters
    ----------
    start_m : float
        Distance of its start from the left-hand end of the wall in m.
    width_m, height_m : float
        Structural opening in m.
    sill_m : float, default 0.9
        Sill above the floor in m.
    **keys
        Other keys, such as `name` and `build_up`: units and meaning under `[[room]]` on the page "The
        survey file".

    Returns
    -------
    Opening

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.window(1.0, 1.2, 1.3).sill_m
    0.9
    """
    return _opening("window", {**keys, "sill_m": sill_m}, start_m, width_m, height_m)


def glazed_door(start_m: float, width_m: float, height_m: float, **keys: Any) -> Opening:
    """A glazed door.

    Parameters
    ----------
    start_m : float
        Distance of its start from the left-hand end of the wall in m.
    width_m, height_m : float
        Structural opening in m.
    **keys
        Other keys, such as `name`, `build_up` and `crossing_depth_m` in m: units and meaning under
        `[[room]]` on the page "The survey file".

    Returns
    -------
    Opening

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.glazed_door(0.5, 1.8, 2.1).kind
    'glazed door'
    """
    return _opening("glazed door", keys, start_m, width_m, height_m)


def _opening(kind: str, keys: Mapping[str, Any], start_m: float, width_m: float, height_m: float) -> Opening:
    return value_with_keys(
        kind.replace(" ", "_"), Opening, keys, kind=kind, start_m=start_m, width_m=width_m, height_m=height_m
    )


def obstacle(kind: str, start_m: float, width_m: float, **keys: Any) -> Obstacle:
    """An object at a wall that interrupts the skirting.

    Parameters
    ----------
    kind : str
        Units, bath, hearth and the like.
    start_m, width_m : float
        Distance of its start from the left-hand end of the wall, and its width, in m.
    **keys
        Other keys, `run` ("crossing" or "stop") and `crossing_depth_m` in m: units and meaning under
        `[[room]]` on the page "The survey file".

    Returns
    -------
    Obstacle

    Raises
    ------
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.obstacle("units", 0.0, 2.4).end_m
    2.4
    """
    return value_with_keys("obstacle", Obstacle, keys, kind=kind, start_m=start_m, width_m=width_m)


def covered(start_m: float, width_m: float, factor: float = CoveredStretch.factor) -> CoveredStretch:
    """A stretch of wall where the skirting runs behind furniture or units.

    Parameters
    ----------
    start_m, width_m : float
        Distance of its start from the left-hand end of the wall, and its width, in m.
    factor : float, default 0.6
        Share of the output that remains.

    Returns
    -------
    CoveredStretch

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.build.covered(0.6, 1.4, 0.7).factor
    0.7
    """
    return CoveredStretch(start_m, width_m, factor)


def rectangle(
    name: str,
    indoor_c: float,
    width_m: float,
    depth_m: float,
    *,
    beyond: Sequence[str | None] = (None, None, None, None),
    build_ups: Sequence[str | None] = (None, None, None, None),
    **keys: Any,
) -> Room:
    """A room of four walls at right angles.

    Parameters
    ----------
    name : str
        Name of the room.
    indoor_c : float
        Room temperature in °C.
    width_m : float
        Length of its second and fourth wall in m; from west to east if the first wall runs due north.
    depth_m : float
        Length of its first and third wall in m.
    beyond, build_ups : sequence of four str or None
        Adjacent space and build-up of each wall: west, north, east and south if the first wall runs due north.
    **keys
        Other keys, such as `height_m` in m: units and meaning under `[[room]]` on the page "The survey file".

    Returns
    -------
    Room

    Raises
    ------
    ValueError
        If there are not four adjacent spaces, or not four build-ups.
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> box = hl.build.rectangle("Box room", 17.0, 2.9, 2.8, beyond=("outdoors", "Landing", None, "outdoors"))
    >>> [(wall.length_m, wall.beyond) for wall in box.walls]
    [(2.8, 'outdoors'), (2.9, 'Landing'), (2.8, None), (2.9, 'outdoors')]
    """
    lengths = (depth_m, width_m, depth_m, width_m)
    sides = zip(lengths, beyond, build_ups, strict=True)
    walls = tuple(wall(length_m, far, build_up=built) for length_m, far, built in sides)
    return value_with_keys("rectangle", Room, keys, name=name, indoor_c=indoor_c, walls=walls)


def diagonal(from_corner: int, to_corner: int, length_m: float) -> Diagonal:
    """The distance between two corners of a room, for the key `diagonals` of :func:`room`.

    Parameters
    ----------
    from_corner, to_corner : int
        Numbers of the corners; corner n is the left-hand end of wall n.
    length_m : float
        Length by tape in m.

    Returns
    -------
    Diagonal

    Examples
    --------
    >>> import heatloop as hl
    >>> walls = [hl.build.wall(4.0), hl.build.wall(3.0), hl.build.wall(4.0), hl.build.wall(3.0)]
    >>> den = hl.build.room("Den", 20.0, walls, diagonals=(hl.build.diagonal(1, 3, 5.0),))
    >>> den.diagonals[0].length_m
    5.0
    """
    return Diagonal(from_corner, to_corner, length_m)
