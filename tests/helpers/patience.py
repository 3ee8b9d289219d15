"""How long tests wait for what comes in the end: a limit for what hangs, far beyond what a busy machine takes."""

SURELY_S = 600.0
