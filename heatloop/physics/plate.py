"""What a bare flat plate on the wall gives: a floor under any rating that a catalogue claims.

Radiation to a room as warm as its air, and free convection of still air along a vertical plate. A profile that is
said to give less than a flat plate of its own height is misread, or its finish is bright.
"""

from __future__ import annotations

from fluids.atmosphere import ATMOSPHERE_1976

KELVIN = 273.15
STEFAN_BOLTZMANN_W_M2K4 = 5.670374419e-8
GRAVITY_M_S2 = 9.80665
AIR_PRESSURE_PA = 101325.0
AIR_GAS_J_KGK = 287.05
AIR_HEAT_CAPACITY_J_KGK = 1006.0

PAINTED_EMISSIVITY = 0.9
BRIGHT_EMISSIVITY = 0.1
"""Painted metal of any colour, and bright aluminium (tables of any heat transfer text; from memory)."""


def plate_output_w_m(height_m: float, excess_k: float, room_c: float = 20.0, emissivity: float = 0.9) -> float:
    """Output of one side of a vertical plate, W per metre of its length, all of it `excess_k` above the room.

    height (emissivity sigma (Ts^4 - Tr^4) + Nu k/height excess). Nu by Churchill and Chu 1975 (Int. J. Heat Mass
    Transfer 18, 1323-1329), isothermal vertical plate, Rayleigh number up to 1e12; properties of dry air half-way
    between plate and room (US Standard Atmosphere 1976 by the library fluids; heat capacity 1006 J/(kg K)).
    Excess above 0, to 80 K. Check E9.

    >>> round(plate_output_w_m(0.15, 50.0), 1)
    95.1
    """
    if not (height_m > 0.0 and excess_k > 0.0):
        raise ValueError(f"wanted height_m and excess_k above 0, got {height_m:g} and {excess_k:g}")
    room_k, plate_k = room_c + KELVIN, room_c + excess_k + KELVIN
    radiation_w_m2 = emissivity * STEFAN_BOLTZMANN_W_M2K4 * (plate_k**4 - room_k**4)
    return height_m * (radiation_w_m2 + plate_coefficient_w_m2k(height_m, excess_k, room_c) * excess_k)


def plate_coefficient_w_m2k(height_m: float, excess_k: float, room_c: float = 20.0) -> float:
    """Coefficient of free convection along a vertical plate, W/(m2 K): see :func:`plate_output_w_m`.

    >>> round(plate_coefficient_w_m2k(0.15, 50.0), 2)
    6.06
    """
    film_k = room_c + excess_k / 2.0 + KELVIN
    density = AIR_PRESSURE_PA / (AIR_GAS_J_KGK * film_k)
    viscosity = ATMOSPHERE_1976.viscosity(film_k)
    conductivity = ATMOSPHERE_1976.thermal_conductivity(film_k)
    prandtl = viscosity * AIR_HEAT_CAPACITY_J_KGK / conductivity
    grashof = GRAVITY_M_S2 / film_k * excess_k * height_m**3 * (density / viscosity) ** 2
    rayleigh = grashof * prandtl
    by_prandtl = (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    nusselt = (0.825 + 0.387 * rayleigh ** (1.0 / 6.0) / by_prandtl) ** 2
    return float(nusselt * conductivity / height_m)
