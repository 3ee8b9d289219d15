"""The interactive plan: one page to look at a design and ask "what if", readable without script."""
