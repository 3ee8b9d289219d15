"""Movement, brackets and labels of the skirting."""
