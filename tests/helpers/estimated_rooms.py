"""Two rooms before their survey: a schedule, with the catalogue and the prices of their estimate."""

import pandas as pd

from tests.helpers.paths import DATA

CATALOGUE, PRICES = DATA / "alder-lodge" / "catalogue.toml", DATA / "alder-lodge" / "prices.csv"
ROOMS = pd.DataFrame(
    {"name": ["Den", "Bath"], "indoor_c": [20.0, 22.0], "heat_loss_w": [390.0, 160.0], "estimated_wall_m": [9.2, 4.8]}
)
