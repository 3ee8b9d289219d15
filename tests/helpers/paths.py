"""Paths of the files that tests read."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DATA = ROOT / "data"
TESTS = ROOT / "tests"
HARBOUR_LOFT = TESTS / "surveys" / "harbour-loft"
