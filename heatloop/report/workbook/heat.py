"""Sheets of heat and water: rooms, losses, comfort, loops, valves, plant, closed system, elements."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.commissioning.pressure_checks import PRESSURES
from heatloop.report.columns.registry import table_description
from heatloop.report.workbook.sheets import TEXT, Book, Live, fill_head, put, put_value
from heatloop.results.design import DesignResult
from heatloop.results.summaries import room_state
from heatloop.text.column import Column, number_column, text_column

Letters = Mapping[str, str]
Row = Mapping[Any, Any]

NOTE = text_column("kept", "Note")
DENSITY = number_column("density_kg_m3", "Density", "kg/m³", 2)
HEAT_CAPACITY = number_column("heat_capacity_j_kgk", "Heat capacity", "J/(kg K)", 1)


def _columns(table: str, *names: str) -> list[Column]:
    described = table_description(table)
    return [described.column(name) for name in names] if names else list(described.columns)


def rooms_sheet(book: Book, design: DesignResult) -> None:
    """Loss, output and margin of every room."""
    rows = design.frames["rooms"].to_dict("records")
    columns = _columns(
        "rooms", "room", "indoor_c", "heat_loss_w", "back_loss_w", "heat_to_rooms_w", "output_min_w", "output_max_w",
        "margin_w", "coverage", "heated_length_m", "free_wall_m", "loss_source", "is_estimate", "reheat_w",
    )  # fmt: skip
    last = 3 + len(design.frames["heat_loss_parts"])
    book.table(
        "Rooms",
        "Loss: parts on the sheet Losses; margin = output − loss − back loss; coverage = output / (loss + back loss)",
        columns,
        rows,
        [
            Live(
                "Loss from its parts, W", "heat_loss_w",
                lambda at, n, _: f"=MAX(SUMIF(Losses!$A$4:$A${last},$A{n},Losses!$I$4:$I${last}),0)"
                f"+IF({at['reheat_w']}{n}>0,{at['reheat_w']}{n},0)",
            ),
            Live(
                "Margin, calculated again, W", "margin_w",
                lambda at, n, _: f"={at['heat_to_rooms_w']}{n}-{at['heat_loss_w']}{n}-{at['back_loss_w']}{n}",
            ),
            Live(
                "Coverage, calculated again", "coverage",
                lambda at, n, row: f"={at['heat_to_rooms_w']}{n}/({at['heat_loss_w']}{n}+{at['back_loss_w']}{n})"
                if math.isfinite(row["coverage"]) else None,
            ),
            Live(
                "State", "margin_w", lambda at, n, _: f'=IF({at["margin_w"]}{n}<-0.000001,"short","warm")', False,
                lambda row: "short" if room_state(row) == "short" else "warm",
            ),
        ],
    )  # fmt: skip


def losses_sheet(book: Book, design: DesignResult) -> None:
    """Every part of the heat loss: area, U and temperature factor give it again."""
    rows = []
    for row in design.frames["heat_loss_parts"].to_dict("records"):
        by_area = all(math.isfinite(row[name]) for name in ("area_m2", "u_w_m2k", "temperature_factor"))
        rows.append({**row, "by_area": by_area, "kept": "" if by_area else "value of the design: not from an area"})
    columns = [*_columns("heat_loss_parts"), NOTE]
    book.table(
        "Losses",
        "Loss = area × U × temperature factor × (indoor − outdoor); outdoor_c is a named cell of the sheet Basis",
        columns,
        rows,
        [
            Live(
                "Loss, calculated again, W", "heat_loss_w",
                lambda at, n, row: f"={at['area_m2']}{n}*{at['u_w_m2k']}{n}*{at['temperature_factor']}{n}"
                f"*(INDEX(Rooms!$B$4:$B$2000,MATCH($A{n},Rooms!$A$4:$A$2000,0))-outdoor_c)" if row["by_area"] else None,
            )
        ],
        ("area_m2", "u_w_m2k"),
    )  # fmt: skip


def comfort_sheet(book: Book, design: DesignResult) -> None:
    """Comfort beside glazing."""
    book.table(
        "Comfort", "Comfort beside windows and glazed doors", _columns("glazing_comfort"),
        design.frames["glazing_comfort"].to_dict("records"),
    )  # fmt: skip


def loops_sheet(book: Book, design: DesignResult, pack: CommissioningResult | None) -> None:
    """Loops as designed, at nearest settings, and as tested."""
    elements, fluid = design.frames["elements"], design.system.fluid
    tested: dict[str, float] = {}
    if pack is not None:
        for target in pack.frames["commissioning"].to_dict("records"):
            tested[target["loop"]] = tested.get(target["loop"], 0.0) + target["flow_heads_removed_l_h"]
    rows = []
    for row in design.frames["loops"].to_dict("records"):
        tail = elements[(elements["loop"] == row["loop"]) & (elements["kind"] == "tail")].iloc[0]
        rows.append(
            {
                **row,
                "density_kg_m3": tail["mass_flow_kg_s"] * 3.6e6 / row["flow_l_h"],
                "heat_capacity_j_kgk": float(
                    fluid.heat_capacity_j_kgk((row["flow_temp_c"] + row["return_temp_c"]) / 2.0)
                ),
                "tested_flow_l_h": tested.get(row["loop"]),
            }
        )
    columns = [
        *_columns("loops"),
        DENSITY,
        HEAT_CAPACITY,
        number_column("tested_flow_l_h", "Flow, heads removed", "l/h", 0),
    ]
    book.table(
        "Loops",
        "As designed; achieved: at nearest settings; heads removed: without thermostatic heads, at the conditions of "
        "the commissioning sheet",
        columns,
        rows,
        [
            Live(
                "Flow from heat and temperature drop, l/h", "flow_l_h",
                lambda at, n, _: f"={at['heat_from_water_w']}{n}/({at['heat_capacity_j_kgk']}{n}"
                f"*{at['density_kg_m3']}{n}*{at['temperature_drop_k']}{n})*3600000",
            ),
            Live(
                "Flow error, calculated again, %", "flow_error_percent",
                lambda at, n, row: f"=100*({at['achieved_flow_l_h']}{n}/{at['target_flow_l_h']}{n}-1)"
                if math.isfinite(row["flow_error_percent"]) else None,
            ),
        ],
    )  # fmt: skip


def valves_sheet(book: Book, design: DesignResult) -> None:
    """Valves: their Kv from flow and drop, and the authority of thermostatic ones."""
    elements = design.frames["elements"]
    valves = elements[elements["kind"] == "valve"]
    rows = []
    for row in design.frames["valves"].to_dict("records"):
        own = valves[
            (valves["loop"] == row["loop"]) & (valves["arm"] == row["arm"]) & (valves["direction"] == row["side"])
        ]
        mass = float(own["mass_flow_kg_s"].iloc[0]) if len(own) else math.nan
        rows.append({**row, "density_kg_m3": mass * 3.6e6 / row["flow_l_h"]})
    book.table(
        "Valves",
        "Kv = flow/1000 × √(density/1000 / (pressure drop/100)); authority = open pressure drop / closing pressure",
        [*_columns("valves"), DENSITY],
        rows,
        [
            Live(
                "Kv, calculated again, m³/h", "kv_m3_h",
                lambda at, n, row: f"={at['flow_l_h']}{n}/1000*SQRT({at['density_kg_m3']}{n}/1000"
                f"/({at['pressure_drop_kpa']}{n}/100))" if math.isfinite(row["density_kg_m3"]) else None,
            ),
            Live(
                "Authority, calculated again", "authority",
                lambda at, n, row: f"={at['open_pressure_drop_kpa']}{n}/{at['closing_pressure_kpa']}{n}"
                if math.isfinite(row["authority"]) else None,
            ),
        ],
        ("pressure_drop_kpa",),
    )  # fmt: skip


def plant_sheet(book: Book, design: DesignResult) -> None:
    """The heat balance of the source, which sums to nothing, and the pumps below it."""
    rows = design.frames["source_heat_balance"].to_dict("records")
    columns = _columns("source_heat_balance")
    sheet = book.table(
        "Plant", "Heat of the source (the row of the total is the sum of the others); below it the pumps", columns, rows
    )
    last = 3 + len(rows)
    row = last + 2
    put(sheet, row, 1, "Sum of the other rows less the source, W", TEXT)
    balance = sum(part["heat_w"] for part in rows[:-1]) - rows[-1]["heat_w"]
    book.formula(sheet, row, 2, f"=ROUND(SUM(B4:B{last - 1})-B{last},6)", round(balance, 6) + 0.0)
    pumps = _columns("pumps")
    fill_head(sheet, [column.full_heading for column in pumps], row + 2)
    for number, pump in enumerate(design.frames["pumps"].to_dict("records"), start=row + 3):
        for place, column in enumerate(pumps, start=1):
            put_value(sheet, number, place, column, pump[column.name])


def closed_system_sheet(book: Book, pack: CommissioningResult | None) -> None:
    """Water content and pressures, with the chain of EN 12828 (from memory) calculated again."""
    rows = [] if pack is None else pack.frames["pressures"].to_dict("records")
    at = {row["quantity"]: f"$B${number}" for number, row in enumerate(rows, start=4)}
    chain = {
        "expansion volume": "={water content}*{expansion}/100",
        "maximum working pressure": "={relief valve}-MAX(50,{relief valve}/10)",
        "minimum vessel": "=({expansion volume}+{reserve of the vessel})*({maximum working pressure}+100)"
        "/({maximum working pressure}-{precharge for the calculation})",
        "cold fill pressure": "=({minimum cold fill}+{maximum cold fill})/2",
        "pressure at the top, cold": "={cold fill pressure}-{static head}",
    }

    def formula(_: Letters, __: int, row: Row) -> str | None:
        text = chain.get(row["quantity"])
        if text is None or not math.isfinite(row["value"]):
            return None
        for name, place in at.items():
            text = text.replace("{" + name + "}", place)
        return None if "{" in text else text

    book.table(
        "Closed system", "Gauge pressures at the level of the vessel; EN 12828 annex D, from memory",
        list(PRESSURES.columns), rows, [Live("Calculated again", "value", formula)],
    )  # fmt: skip


def elements_sheet(book: Book, design: DesignResult) -> None:
    """Every element in the order of the water."""
    book.table(
        "Elements", "Tails, valves, pieces, joints and crossings in the order in which the water passes them",
        _columns("elements"),
        design.frames["elements"].to_dict("records"),
    )  # fmt: skip
