"""Many dwellings sized in lots."""
