"""Frozen results, and summaries, tables and checks made from them."""
