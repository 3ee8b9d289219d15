"""Pictures of the water side: flows, temperatures, pressures, pumps."""
