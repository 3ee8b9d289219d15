"""Random cases are the same on every run, so that one command has one verdict; `--hypothesis-profile=explore` draws
new ones."""

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True)
settings.register_profile("explore", derandomize=False)
settings.load_profile("repeatable")
