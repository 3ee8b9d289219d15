"""Routed walls to pieces, joints, crossings and ends; heated length and spare wall."""
