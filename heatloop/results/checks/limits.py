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

VELOCITY = Limit("water velocity", "m/s", PIPEWORK, "take a larger pipe, a larger drop, or divide the loop")

GRADIENT = Limit(
    "pipe friction", "Pa/m", PIPEWORK, "take a larger pipe, a larger drop, or divide the loop", "caution"
)  # fmt: skip

QUIET = Limit(
    "quiet valve", "kPa", "largest quiet pressure drop of the valve's catalogue entry",
    "share the drop with a lockshield valve, lower the pump head, or fit a differential control",
)  # fmt: skip

BALANCE = Limit(
    "valve can balance", "m3/h", "Kv table of the valve's catalogue entry",
    "choose a valve with a finer range for this loop, or fit a second one in series",
)  # fmt: skip

NO_VALVE = Limit(
    "loop has a balancing valve", "kPa", "common practice",
    "put a lockshield valve on the loop's return: without it this loop takes more than its share",
)  # fmt: skip

PUMP = Limit(
    "pump head available", "kPa", "pump curve of the survey",
    "a stronger pump or speed, larger pipes on the index loop, or a larger design drop",
)  # fmt: skip

PUMP_RANGE = Limit(
    "flow within the pump's curve", "l/h", "pump curve of the survey", "a larger pump, or a larger design drop"
)

SOURCE_OUTPUT = Limit(
    "source output", "kW", "output of the source in the survey, against the load of the building",
    "a larger source, or less heat loss",
)  # fmt: skip

SOURCE_DRAW = Limit(
    "heat drawn, every valve open", "kW", "output of the source in the survey",
    "lower the flow temperature, lay less skirting, or keep thermostatic valves at work", "caution",
)  # fmt: skip

SOURCE_TEMP = Limit(
    "source flow temperature", "degC", "greatest flow temperature of the source in the survey",
    "lower the flow temperature and lay more skirting, or another source",
)  # fmt: skip

SOURCE_FLOW = Limit(
    "least flow of the source", "l/h", "least flow of the source in the survey",
    "a smaller design drop, a bypass, or a low-loss header with its own pump", "caution",
)  # fmt: skip

OPEN_WATER = Limit(
    "water that stays open", "l", "least open water of the source in the survey",
    "leave a loop without a closing valve, or add a buffer vessel", "caution",
)  # fmt: skip

AUTHORITY = Limit(
    "authority of a thermostatic valve", "-", "common practice: 0.3 to 0.5 of the pressure at closure",
    "choose a lower presetting or a smaller valve, or hold the differential of the loop with a control", "caution",
)  # fmt: skip

QUIET_SHUT = Limit(
    "quiet valve when it closes", "kPa", "largest quiet pressure drop of the valve's catalogue entry",
    "lower the pump's head, let it keep a differential, or fit a differential control", "caution",
)  # fmt: skip

PUMP_RESERVE = Limit(
    "pump reserve", "-", "common practice: a tenth of the head needed",
    "a stronger pump or larger pipes on the index loop: fouling and errors of the survey eat the reserve", "caution",
)  # fmt: skip

ARM_SHARE = Limit(
    "arms share their loop's water", "-", "common practice: a quarter more or less than by length",
    "give each arm a lockshield valve: without them the short arm robs the long one", "caution",
)  # fmt: skip

ROUNDED = Limit(
    "flow at real settings", "%", "common practice: flows within 15 per cent",
    "set the valve between two marks by temperature on site, or choose one with a finer range", "caution",
)  # fmt: skip

SENSED = Limit(
    "room on another room's sensor", "-", "design heat loss, valves throttled to the rooms of their sensors",
    "put the sensor in this room, give it a loop or another emitter of its own, or size by loss", "caution",
)  # fmt: skip

SHUT = Limit(
    "flow of others when a loop shuts", "%", "common practice: a quarter",
    "let the pump keep a differential, or fit a differential control on the trunk", "caution",
)  # fmt: skip

DEAD_HEAD = Limit(
    "flow left when all thermostatic valves shut", "l/h", "common practice: a pump wants some flow",
    "fit a bypass, leave a loop without a thermostatic valve, or take a pump that keeps a differential", "caution",
)  # fmt: skip

BETWEEN = Limit(
    "flow between laminar and turbulent", "Re", "no agreed friction values from Re 2000 to 4000",
    "expect the drop between the two values the report gives; balance on site by temperature", "caution",
)  # fmt: skip

QUOTED = Limit(
    "wall quoted before its survey", "m", "estimated_wall_m of the survey stands for walls that nobody has measured",
    "survey the room before anything is ordered: until then all that comes from it is an estimate, without cuts or "
    "marks", "caution",
)  # fmt: skip

ONE_SIDED = Limit(
    "far side told by both rooms", "rooms", "a wall between two rooms belongs to both", "", "caution"
)  # fmt: skip

LONE_DOORWAY = Limit(
    "doorway named in two rooms", "rooms", "an opening with one name in two rooms is one doorway", "", "caution"
)  # fmt: skip

UNSAID = Limit(
    "far side said where a wall has a build-up", "sides", "a wall without beyond is taken as equally warm", "",
    "caution",
)  # fmt: skip

RESIDUAL = Limit(
    "balances of the calculation close", "-", "relative residuals of mass, head, energy and inlet of the solved system",
    "do not use these results: send the survey to whoever looks after this program",
)  # fmt: skip

HEAD = Limit(
    "pump head in practice", "kPa", "common practice: pumps for heating in buildings give less",
    "larger pipes, a larger design drop, or more loops side by side",
)  # fmt: skip
