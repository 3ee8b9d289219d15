"""Rooms with measured diagonals: the angles of their corners, and the detection of a wrong length."""
