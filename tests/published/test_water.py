"""Water and glycol mixtures against IAPWS check values and handbooks; sources in data/published/water.csv."""

from heatloop.physics.pressurisation import expansion_by_density, expansion_en_12828
from heatloop.physics.water import freezing_point_c, mass_fraction_from_volume_fraction, mixture, plain_water
from tests.helpers.published import replayed

ATMOSPHERE_PA = 101_325.0


def freezing_by_volume(propylene_volume_fraction):
    fraction = mass_fraction_from_volume_fraction("propylene glycol", propylene_volume_fraction)
    return freezing_point_c("propylene glycol", fraction)


def propylene(method, scale=1.0):
    return lambda propylene_mass_fraction, t_c: (
        scale * getattr(mixture("propylene glycol", propylene_mass_fraction), method)(t_c)
    )


def glycol(method, scale=1.0):
    return lambda kind, mass_fraction, t_c: scale * getattr(mixture(f"{kind} glycol", mass_fraction), method)(t_c)


QUANTITIES = {
    "density_kg_m3": lambda t_c, pressure_pa: plain_water(pressure_pa).density_kg_m3(t_c),
    "heat_capacity_j_kgk": lambda t_c, pressure_pa: plain_water(pressure_pa).heat_capacity_j_kgk(t_c),
    "viscosity_upa_s": lambda t_c, pressure_pa: 1e6 * plain_water(pressure_pa).viscosity_pa_s(t_c),
    "expansion_percent": lambda **span: 100.0 * expansion_by_density(plain_water(ATMOSPHERE_PA), **span),
    "expansion_en_12828_percent": lambda max_temp_c: 100.0 * expansion_en_12828(max_temp_c),
    "mixture_density_kg_m3": propylene("density_kg_m3"),
    "mixture_heat_capacity_j_kgk": propylene("heat_capacity_j_kgk"),
    "mixture_viscosity_mpa_s": propylene("viscosity_pa_s", 1e3),
    "freezing_point_c": lambda propylene_mass_fraction: freezing_point_c("propylene glycol", propylene_mass_fraction),
    "freezing_point_of_c": lambda kind, mass_fraction: freezing_point_c(f"{kind} glycol", mass_fraction),
    "glycol_density_kg_m3": glycol("density_kg_m3"),
    "glycol_heat_capacity_j_kgk": glycol("heat_capacity_j_kgk"),
    "glycol_viscosity_mpa_s": glycol("viscosity_pa_s", 1e3),
    "freezing_point_by_volume_c": freezing_by_volume,
    "mass_fraction_from_volume": lambda ethylene_volume_fraction: mass_fraction_from_volume_fraction(
        "ethylene glycol", ethylene_volume_fraction
    ),
}


test_published_row = replayed("water", __name__, QUANTITIES)
