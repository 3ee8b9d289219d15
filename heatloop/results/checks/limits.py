"""Limits of a design, each with its unit, source and recommendation."""

from __future__ import annotations

from heatloop.findings.limits import Limit

MAX_VELOCITY_M_S = 1.0

MAX_GRADIENT_PA_M = 300.0

LAMINAR_RE, TURBULENT_RE = 2000.0, 4000.0

MIN_AUTHORITY = 0.3

MIN_PUMP_RESERVE = 1.1

MAX_ARM_SHARE = 1.25

MAX_FLOW_ERROR_PERCENT = 15.0

MAX_SHUT_CHANGE_PERCENT = 25.0

MIN_SENSED = 1.0

DEAD_HEAD_L_H = 1.0

MAX_RESIDUAL = 1e-9

MAX_HEAD_KPA = 200.0

PIPEWORK = "CIBSE Guide B as cited in lecture notes: heating pipework to 50 mm"

VELOCITY = Limit(
    "water velocity", "m/s", PIPEWORK, "choose a larger pipe or a larger temperature drop, or divide the loop"
)  # fmt: skip

GRADIENT = Limit(
    "pipe friction", "Pa/m", PIPEWORK, "choose a larger pipe or a larger temperature drop, or divide the loop",
    "caution",
)  # fmt: skip

QUIET = Limit(
    "quiet operation of the valve", "kPa",
    "maximum pressure drop for quiet operation, from the valve's catalogue entry",
    "share the pressure drop with a lockshield valve, lower the pump head, or fit a differential pressure control",
)  # fmt: skip

BALANCE = Limit(
    "Kv needed at the valve", "m3/h", "Kv table of the valve's catalogue entry",
    "choose a valve with a finer range for this loop, or fit a second valve in series",
)  # fmt: skip

NO_VALVE = Limit(
    "surplus pressure without a balancing valve", "kPa", "common practice",
    "fit a lockshield valve on the loop's return: without it, this loop takes more than its share of the flow",
)  # fmt: skip

PUMP = Limit(
    "pump head available", "kPa", "pump curve of the survey",
    "choose a stronger pump, a higher speed, larger pipes on the index loop, or a larger design temperature drop",
)  # fmt: skip

PUMP_SETTING = Limit(
    "head setting of the pump", "kPa", "head that the index loop requires at the design flow",
    "set the pump to at least this head, or enlarge the pipes of the index loop",
)  # fmt: skip

PUMP_RANGE = Limit(
    "flow within the pump's curve", "l/h", "pump curve of the survey",
    "choose a larger pump or a larger design temperature drop",
)  # fmt: skip

SOURCE_OUTPUT = Limit(
    "source output", "kW",
    "output of the source in the survey, compared with the load of the building and all losses outside its rooms",
    "choose a larger source, or reduce the heat loss of the building or of the pipes",
)  # fmt: skip

SOURCE_DRAW = Limit(
    "heat drawn with all valves open", "kW", "output of the source in the survey",
    "control all rooms by thermostatic valves, or fit less skirting in rooms with a large margin", "caution",
)  # fmt: skip

SOURCE_TEMP = Limit(
    "source flow temperature", "degC", "maximum flow temperature of the source in the survey",
    "lower the flow temperature and fit more skirting, or choose another source",
)  # fmt: skip

SOURCE_FLOW = Limit(
    "flow through the heat source", "l/h", "minimum flow of the source in the survey",
    "choose a smaller design temperature drop, a bypass, or a low-loss header with its own pump", "caution",
)  # fmt: skip

OPEN_WATER = Limit(
    "open water volume with all thermostatic valves closed", "l",
    "minimum water content that stays open to the source, from the survey",
    "leave one loop without a valve that closes by itself, or add a buffer vessel: the source requires this "
    "water content even with all thermostatic valves closed", "caution",
)  # fmt: skip

AUTHORITY = Limit(
    "authority of a thermostatic valve", "-", "common practice: 0.3 to 0.5 of the closing pressure",
    "choose a lower presetting or a smaller valve, or fit a differential pressure control: at a low authority the "
    "valve controls only when it is nearly closed", "caution",
)  # fmt: skip

QUIET_SHUT = Limit(
    "quiet operation of the valve when it closes", "kPa",
    "maximum pressure drop for quiet operation, from the valve's catalogue entry",
    "lower the pump head, set the pump to constant pressure, or fit a differential pressure control", "caution",
)  # fmt: skip

PUMP_RESERVE = Limit(
    "pump reserve", "-", "common practice: 10 % of the required head",
    "choose a stronger pump, or larger pipes on the index loop: fouling and survey errors reduce the reserve",
    "caution",
)  # fmt: skip

ARM_SHARE = Limit(
    "share of the flow of an arm divided by its share of the length", "-", "common practice",
    "fit a lockshield valve in each arm: without them, the shorter arm takes more than its share of the flow",
    "caution",
)  # fmt: skip

ROUNDED = Limit(
    "flow error at the nearest settings", "%", "common practice: flows within 15 %",
    "set the valve between two whole settings by the return temperature on site, or choose a valve with a finer range",
    "caution",
)  # fmt: skip

SENSED = Limit(
    "room controlled by a sensor in another room", "-",
    "design heat loss; each valve throttled by the sensor in the other room",
    "place the sensor in this room, add a loop or emitter for this room alone, or "
    "divide the skirting of the loop between its rooms in proportion to their heat loss",
    "caution",
)  # fmt: skip

SHUT = Limit(
    "flow change when another loop is isolated", "%", "common practice: 25 %",
    "set the pump to constant pressure, or fit a differential pressure control on the trunk", "caution",
)  # fmt: skip

DEAD_HEAD = Limit(
    "pump flow with all thermostatic valves closed", "l/h", "common practice: a pump requires some flow",
    "fit a bypass, leave one loop without a thermostatic valve, or choose a pump with constant pressure: when all "
    "thermostatic valves close, the pump otherwise runs against closed valves", "caution",
)  # fmt: skip

BETWEEN = Limit(
    "flow between laminar and turbulent", "Re",
    "Re is the Reynolds number; ends of the laminar and the turbulent range",
    "the pressure drop cannot be calculated exactly: it lies between the value for laminar and the value for turbulent "
    "flow; balance such a loop on site by its return temperature",
    "caution",
)  # fmt: skip

QUOTED = Limit(
    "wall length estimated before a survey", "m", "estimated_wall_m of the survey replaces walls that are not measured",
    "survey the room before ordering: until then its parts are estimated, without cut lengths or pipe positions",
    "caution",
)  # fmt: skip

ONE_SIDED = Limit(
    "wall between two rooms entered in both", "rooms", "a wall between two rooms belongs to both", "", "caution"
)  # fmt: skip

LONE_DOORWAY = Limit(
    "doorway entered in both rooms", "rooms", "an opening with one name in two rooms is one doorway", "", "caution"
)  # fmt: skip

UNSAID = Limit(
    "adjacent side of a wall with a build-up", "sides", "a wall without beyond is assumed to be equally warm on both "
    "sides", "", "caution",
)  # fmt: skip

RESIDUAL = Limit(
    "residual of the calculation", "-",
    "relative residuals of mass, head, energy and inlet temperatures of the solved system",
    "do not use these results: report the survey to the maintainers of heatloop",
)  # fmt: skip

HEAD = Limit(
    "usual pump head", "kPa", "common practice: pumps for heating in buildings have a lower head",
    "choose larger pipes, a larger design temperature drop, or more loops in parallel",
)  # fmt: skip

LOOP_CHECKS = frozenset(
    limit.check
    for limit in (VELOCITY, GRADIENT, QUIET, BALANCE, NO_VALVE, AUTHORITY, QUIET_SHUT, ARM_SHARE, ROUNDED, BETWEEN)
)
"""Checks whose location is a loop, or begins with it. A room may have the name of a loop."""
