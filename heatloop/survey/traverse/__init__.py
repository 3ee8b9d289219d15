"""Rooms whose diagonals were taped as well: the angles of their corners, and which length is wrong."""
