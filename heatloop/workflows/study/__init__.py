"""A study: many cases sized in tasks, with results in a folder that can be continued after an interruption."""
