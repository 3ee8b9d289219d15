"""Printed documents, one module each."""
