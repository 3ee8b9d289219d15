"""Data for documents, drawings and offers that are not part of the design, as frozen values."""
