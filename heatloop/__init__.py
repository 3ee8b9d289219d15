"""Design of water-heated skirting: heat loss, layout, loops, balancing, parts and commissioning."""
