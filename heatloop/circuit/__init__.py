"""The water: paths of elements, channel heat balance, the network and its solution."""
