"""What documents, drawings and offers state beside the design, as frozen values."""
