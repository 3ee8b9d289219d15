"""One loop, or one run of skirting, by itself."""
